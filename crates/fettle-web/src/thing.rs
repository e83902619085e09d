//! The page of one thing in the record, and the forms on it: an owner, a camera, a drawer, a part, a donor.

use axum::extract::{Path, Query, Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use fettle_bench::{Applied, BenchError, Change};
use maud::{Markup, html};
use serde::Deserialize;
use serde::de::DeserializeOwned;

use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::Page;
use crate::recorded::{self, Range};
use crate::state::{AppState, Desk};
use crate::upload::{Takes, Upload};
use crate::{once, urls};

/// Something with a number in the record and a page of its own.
pub(crate) trait Thing: Sized + 'static {
    /// What the address asks beside which one.
    type Asked: DeserializeOwned + Default + Send + 'static;

    /// What it is, in a sentence.
    const NAME: &'static str;
    /// The room it is in: its address, and the words of a link to it.
    const ROOM: (&'static str, &'static str);

    /// Reads the one with this number.
    fn read(desk: &Desk, number: i64) -> Result<Self, BenchError>;

    /// Where its page is.
    fn address(&self) -> String;

    /// What a form asks for: nothing when it alters nothing or is wrong, `None` when there is no such form.
    fn asked(
        &self,
        desk: &Desk,
        deed: &str,
        fields: &Fields,
        wrong: &mut Wrong,
    ) -> Result<Option<Vec<Change>>, PageError>;

    /// The form on the page that was sent; several of one kind are told apart by what they are about.
    fn form_id(deed: &str, _fields: &Fields) -> String {
        deed.to_owned()
    }

    /// Its page, with the form that came back.
    fn page(&self, desk: &Desk, returned: &Form, asked: &Self::Asked) -> Result<Page, PageError>;
}

/// Nothing but which one.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct NoMore {}

#[derive(Debug, Deserialize)]
pub(crate) struct Recorded {
    recorded: Option<String>,
}

pub(crate) async fn show<T: Thing>(
    State(state): State<AppState>,
    Path(id): Path<String>,
    Query(Recorded { recorded }): Query<Recorded>,
    Query(asked): Query<T::Asked>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let thing: T = known(desk, &id)?;
            let recorded = recorded.as_deref().and_then(Range::parse);
            let line = recorded::line(desk, recorded, &thing.address())?;
            Ok(thing.page(desk, &Form::default(), &asked)?.recorded(line))
        })
        .await?;
    Ok(state.draw(&page))
}

/// The page at an address without a number, with what was just recorded on it.
pub(crate) async fn show_page(
    state: &AppState,
    Recorded { recorded }: Recorded,
    address: &'static str,
    page: impl FnOnce(&Desk) -> Result<Page, PageError> + Send + 'static,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let recorded = recorded.as_deref().and_then(Range::parse);
            let line = recorded::line(desk, recorded, address)?;
            Ok(page(desk)?.recorded(line))
        })
        .await?;
    Ok(state.draw(&page))
}

/// Takes what a form of the page sent.
pub(crate) async fn act<T: Thing>(
    State(state): State<AppState>,
    Path((id, deed)): Path<(String, String)>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let outcome = state
        .at_bench(move |desk| {
            let thing: T = known(desk, &id)?;
            let address = thing.address();
            let mut wrong = Wrong::default();
            let Some(changes) = thing.asked(desk, &deed, &sent.fields, &mut wrong)? else {
                return Err(
                    PageError::missing(format!("The {} has no such form.", T::NAME))
                        .or(&address, format!("Go to the {}", T::NAME)),
                );
            };
            if wrong.is_empty() && changes.is_empty() {
                return Ok(Ok(address));
            }
            if let Some(url) = record(desk, &sent, changes, &mut wrong, |_| address)? {
                return Ok(Ok(url));
            }
            let form = Form::returned(T::form_id(&deed, &sent.fields), sent.fields, wrong);
            // Drawn from the record as it stands after what was refused.
            let thing: T = known(desk, &id)?;
            let page = thing.page(desk, &form, &T::Asked::default())?;
            Ok(Err(Box::new(page)))
        })
        .await?;
    Ok(answer(&state, outcome))
}

/// The thing of this number, as an address or a form gives it.
pub(crate) fn known<T: Thing>(desk: &Desk, id: &str) -> Result<T, PageError> {
    let unknown = || {
        let (room, go) = T::ROOM;
        PageError::missing(format!("There is no {} {id} in the record.", T::NAME)).or(room, go)
    };
    let number = id.parse::<i64>().map_err(|_| unknown())?;
    match T::read(desk, number) {
        Err(BenchError::Unknown { .. }) => Err(unknown()),
        found => Ok(found?),
    }
}

/// What a form came to: an address to go to, or its page with what was typed and what is wrong.
pub(crate) type Outcome = Result<String, Box<Page>>;

pub(crate) fn answer(state: &AppState, outcome: Outcome) -> Response {
    match outcome {
        Ok(url) => Redirect::to(&url).into_response(),
        Err(page) => (StatusCode::UNPROCESSABLE_ENTITY, state.draw(&page)).into_response(),
    }
}

/// Records what the form of a page without a number asks for, once; else `again` draws that page as the form was sent.
pub(crate) fn record_or_draw(
    desk: &Desk,
    sent: Upload,
    changes: Vec<Change>,
    mut wrong: Wrong,
    to: impl FnOnce(&Applied) -> String,
    again: impl FnOnce(Fields, Wrong) -> Result<Page, PageError>,
) -> Result<Outcome, PageError> {
    if let Some(url) = record(desk, &sent, changes, &mut wrong, to)? {
        return Ok(Ok(url));
    }
    Ok(Err(Box::new(again(sent.fields, wrong)?)))
}

/// Records what a form asks for, once; `None` when the record refused, which `wrong` then says.
pub(crate) fn record(
    desk: &Desk,
    sent: &Upload,
    changes: Vec<Change>,
    wrong: &mut Wrong,
    to: impl FnOnce(&Applied) -> String,
) -> Result<Option<String>, PageError> {
    if !wrong.is_empty() {
        return Ok(None);
    }
    let written = desk.once.take(once::key(sent), || {
        let applied = desk.apply(changes)?;
        Ok(urls::with_recorded(
            &to(&applied),
            Range::of(&applied.entries),
        ))
    });
    match written {
        Ok(url) => Ok(Some(url)),
        Err(error) => {
            wrong.not_recorded(error)?;
            Ok(None)
        }
    }
}

/// The hidden token by which a form that is sent twice is known.
pub(crate) fn once_field(desk: &Desk, form: &Form) -> Markup {
    html! { input type="hidden" name="once" value=(form.value("once", &desk.once.token())); }
}

/// The forms of a page: fresh, or one of them as it came back.
pub(crate) struct Forms<'a> {
    pub(crate) desk: &'a Desk,
    pub(crate) returned: &'a Form,
    /// Gives the address that takes a form.
    pub(crate) deed: &'a dyn Fn(&str) -> String,
}

impl Forms<'_> {
    pub(crate) fn named(&self, id: &str) -> Form {
        if self.returned.id() == id {
            self.returned.clone()
        } else {
            Form::fresh(id)
        }
    }

    /// A form of the page around its fields.
    pub(crate) fn around(&self, form: &Form, deed: &str, fields: &Markup) -> Markup {
        html! {
            form method="post" id={ "form-" (form.id()) } action=((self.deed)(deed)) novalidate {
                (once_field(self.desk, form))
                (fields)
            }
        }
    }
}
