//! Which handler answers which address, and what stands before all of them.

use std::time::Duration;

use axum::Router;
use axum::http::StatusCode;
use axum::middleware::{from_fn, from_fn_with_state};
use axum::routing::{get, post};
use fettle_bench::{CameraView, DonorView, DrawerView, OwnerView, PartView};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::timeout::TimeoutLayer;

use crate::error::PageError;
use crate::instrument::{
    Meter, Rangefinder, Register, act, draw, infinity, light, mesh, show, teeth,
};
use crate::state::AppState;
use crate::urls::{self, pattern};
use crate::{
    arrive, assets, backup, bench, cameras, door, drawers, files, find, going_home, guards,
    handbook, import, instruments, learned, live, models, owners, recorded, settings, shutter,
    shutter_check, thing, trace, visit,
};

/// The whole site over one bench.
pub fn router(state: AppState) -> Router {
    let timeout = Duration::from_secs(guards::TIMEOUT_SECONDS);
    pages()
        .layer(from_fn_with_state(state.clone(), door::let_in))
        .layer(from_fn(guards::short_addresses))
        .layer(TimeoutLayer::with_status_code(
            StatusCode::REQUEST_TIMEOUT,
            timeout,
        ))
        .layer(CatchPanicLayer::custom(guards::panicked))
        .layer(from_fn_with_state(state.clone(), guards::error_pages))
        .layer(from_fn(guards::headers))
        .with_state(state)
}

fn pages() -> Router<AppState> {
    Router::new()
        .route(urls::BENCH, get(bench::show))
        .route(urls::ARRIVE, get(arrive::show).post(arrive::act))
        .route(urls::CAMERAS, get(cameras::list))
        .route(pattern::CAMERA, get(thing::show::<CameraView>))
        .route(pattern::CAMERA_DEED, post(thing::act::<CameraView>))
        .route(urls::LEARNED, get(learned::show))
        .route(pattern::LEARNED_FILE, get(learned::file))
        .route(urls::IMPORT, get(import::show).post(import::act))
        .route(urls::BACKUP, get(backup::show).post(backup::act))
        .route(urls::BACKUP_NOW, post(backup::now))
        .route(urls::SETTINGS, get(settings::show).post(settings::act))
        .route(urls::ENTER, get(door::enter::show).post(door::enter::act))
        .route(urls::PAIR, get(door::pair::show).post(door::pair::act))
        .route(urls::HANDS, get(door::hands::show).post(door::hands::act))
        .route(urls::OWNERS, get(owners::list))
        .route(pattern::OWNER, get(thing::show::<OwnerView>))
        .route(pattern::OWNER_DEED, post(thing::act::<OwnerView>))
        .route(urls::MODELS, get(models::list))
        .route(pattern::MODEL, get(models::show))
        .route(urls::DRAWERS, get(drawers::show).post(drawers::act))
        .route(
            urls::STORE,
            get(drawers::show_store).post(drawers::act_store),
        )
        .route(urls::LABELS, get(drawers::labels))
        .route(urls::LABELS_PDF, get(drawers::labels_pdf))
        .route(pattern::DRAWER, get(thing::show::<DrawerView>))
        .route(pattern::DRAWER_DEED, post(thing::act::<DrawerView>))
        .route(pattern::PART, get(thing::show::<PartView>))
        .route(pattern::PART_DEED, post(thing::act::<PartView>))
        .route(
            urls::DONORS,
            get(drawers::list_donors).post(drawers::act_donors),
        )
        .route(pattern::DONOR, get(thing::show::<DonorView>))
        .route(pattern::DONOR_DEED, post(thing::act::<DonorView>))
        .route(urls::INSTRUMENTS, get(instruments::show))
        .route(urls::SHUTTER, get(shutter::show).post(shutter::act))
        .route(urls::METER, get(show::<Meter>).post(act::<Meter>))
        .route(urls::LIGHT, get(light::show))
        .route(urls::REGISTER, get(show::<Register>).post(act::<Register>))
        .route(urls::INFINITY, get(infinity::show))
        .route(
            urls::RANGEFINDER,
            get(show::<Rangefinder>).post(act::<Rangefinder>),
        )
        .route(urls::MESH, get(mesh::show))
        .route(urls::TEETH, get(teeth::show).post(teeth::act))
        .route(urls::DRAW, get(draw::show))
        .route(pattern::PART_FILE, get(draw::file))
        .route(urls::LIVE, get(live::listen))
        .route(pattern::LIVE_TRACE, get(trace::of_session))
        .route(pattern::LIVE_SAMPLES, get(trace::session_samples))
        .route(pattern::GIVEN_TRACE, get(trace::of_given))
        .route(pattern::GIVEN_SAMPLES, get(trace::given_samples))
        .route(pattern::TRACE, get(trace::of_reading))
        .route(pattern::SAMPLES, get(trace::samples))
        .route(pattern::LIVE_RECORDING, get(live::recording))
        .route(
            urls::SHUTTER_CHECK,
            get(shutter_check::show).post(shutter_check::act),
        )
        .route(urls::GOING_HOME, get(going_home::show))
        .route(urls::TRIP, post(going_home::act))
        .route(urls::CALENDAR, get(going_home::ics))
        .route(urls::FIND, get(find::show))
        .route(urls::HANDBOOK, get(handbook::contents))
        .route(pattern::HANDBOOK_PAGE, get(handbook::show))
        .route(pattern::HANDBOOK_PICTURE, get(handbook::picture))
        .route(urls::UNDO, post(recorded::undo))
        .route(pattern::VISIT, get(visit::show))
        .route(pattern::PAPER_PREVIEW, get(visit::preview::show))
        .route(pattern::PAPER_PDF, get(visit::preview::file))
        .route(pattern::TAG, get(visit::tag))
        .route(pattern::DEED, post(visit::act))
        .route(pattern::PHOTO, get(files::photo))
        .route(pattern::RECORDING, get(files::recording))
        .route(pattern::PAPER, get(files::paper))
        .route(pattern::ASSET, get(assets::serve))
        .fallback(nowhere)
}

async fn nowhere() -> PageError {
    PageError::of_status(StatusCode::NOT_FOUND)
}
