//! One camera through all its stages, and every form that comes back.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod support;

use axum::http::StatusCode;
use fettle_bench::{Stage, VisitId};
use support::{Site, photograph, recording, site};

fn stage(site: &Site) -> Stage {
    site.bench.visit(VisitId::new(1)).unwrap().line.stage
}

#[tokio::test]
async fn a_camera_goes_all_the_way_through() {
    let site = site();
    let visit = site.arrived().await;
    let deed = |name: &str| format!("{visit}/{name}");
    let notes = site.bench.notes("corran-66").unwrap();

    let sign = notes.signs.ids().next().unwrap().to_string();
    let answer = site
        .post(&deed("signs"), &[(&format!("sign.{sign}"), "yes")])
        .await;
    let back = answer.goes_to();
    assert!(back.contains("#looked-over"), "{back}");
    site.page(&back).await.shows("Recorded:").shows("Undo");
    site.post(&deed("stage"), &[("to", "looked-over")])
        .await
        .goes_to();

    let fault = notes.faults.values().next().unwrap().name.clone();
    site.post(&deed("fault"), &[("fault", &fault), ("found", "found")])
        .await
        .goes_to();
    let view = site.bench.visit(VisitId::new(1)).unwrap();
    assert_eq!(
        view.faults[0].what.fault.id.as_deref(),
        notes.faults.ids().next().map(fettle_notes::FaultId::as_str)
    );

    let quote = [
        ("work.0.what", "clean it"),
        ("work.0.likely", "55"),
        ("work.0.nine", "90,5"),
        ("work.0.amount", "55"),
        ("part.0.what", "spring"),
        ("part.0.grade", "made"),
        ("part.0.quantity", "2"),
        ("part.0.amount", "12.50"),
        ("waits", "yes"),
    ];
    site.post(&deed("quote"), &quote).await.goes_to();
    assert_eq!(stage(&site), Stage::Quoted);
    site.page(&visit).await.shows("67.50").shows("Waits for");
    site.post(
        &deed("answer"),
        &[("quote", "1"), ("agreed", "yes"), ("words", "please do")],
    )
    .await
    .goes_to();
    assert_eq!(stage(&site), Stage::Agreed);
    site.page(&visit).await.hides("Waits for");

    let part = notes
        .removals
        .iter()
        .find(|(_, removal)| removal.after.is_empty() && removal.either.is_empty());
    let part = part.unwrap().0.to_string();
    let files = [("photo", "step.png", photograph())];
    site.upload(&deed("removed"), &[("piece", &part), ("cell", "1")], &files)
        .await
        .goes_to();
    assert_eq!(stage(&site), Stage::Apart);
    let view = site.bench.visit(VisitId::new(1)).unwrap();
    assert!(view.pieces[0].what.photo.is_some());
    site.page(&visit).await.shows("1 piece in the tray");

    site.post(&deed("work"), &[("work", "cleaned"), ("minutes", "61")])
        .await
        .goes_to();
    let fitted = [
        ("part", "spring"),
        ("grade", "made"),
        ("quantity", "2"),
        ("price", "12,50"),
    ];
    site.post(&deed("part"), &fitted).await.goes_to();
    site.post(&deed("returned"), &[("piece", "1")])
        .await
        .goes_to();
    site.page(&visit)
        .await
        .shows("the tray came out empty")
        .shows("Together: go on to the proof");
    site.post(&deed("stage"), &[("to", "together")])
        .await
        .goes_to();

    for phase in ["before", "after"] {
        let files = [("recording", "dial.wav", recording())];
        let (limit, _) = notes.shutter_limit().unwrap();
        let fields = [("phase", phase), ("limit", limit.as_str())];
        site.upload(&deed("recording"), &fields, &files)
            .await
            .goes_to();
    }
    let other = [("phase", "before"), ("limit", "blades-dry")];
    let files = [("recording", "dial.wav", recording())];
    site.upload(&deed("recording"), &other, &files)
        .await
        .shows("no limit on exposure times under “blades-dry”");
    let view = site.bench.visit(VisitId::new(1)).unwrap();
    assert_eq!((view.readings.len(), view.recordings.len()), (2, 2));
    assert_eq!(
        view.readings[1].what.rows.len(),
        9,
        "{:?}",
        view.readings[1].what.rows
    );
    for row in &view.readings[1].what.rows {
        let error = row.error.unwrap();
        let truth = 1.1_f64.log2();
        assert!(
            (error - truth).abs() < 0.05,
            "{}: {error} against {truth}",
            row.name
        );
    }
    site.page(&visit)
        .await
        .shows("1/500")
        .shows("<svg")
        .shows("The traces, speed by speed");
    let shortfall = [
        ("what", "1/500 stays slow"),
        ("correction", "close a third of a stop"),
    ];
    site.post(&deed("shortfall"), &shortfall).await.goes_to();
    site.post(&deed("stage"), &[("to", "proved")])
        .await
        .goes_to();

    site.post(&deed("paper"), &[("paper", "proof-sheet")])
        .await
        .goes_to();
    let paper = site.page("/papers/1").await;
    assert_eq!(paper.headers["content-type"], "application/pdf");
    assert!(paper.bytes.starts_with(b"%PDF-"));

    site.post(&deed("packed"), &[("item", "case"), ("item", "strap")])
        .await
        .goes_to();
    assert_eq!(stage(&site), Stage::Packed);
    site.page("/going-home")
        .await
        .shows("Packed, to be sent")
        .shows("Packing list");
    site.post(
        &deed("sent"),
        &[("carrier", "harbour post"), ("tracking", "HP 1")],
    )
    .await
    .goes_to();
    assert_eq!(stage(&site), Stage::Home);
    site.page(&visit).await.shows("harbour post").shows("HP 1");
    site.page("/cameras/1").await.shows("It has come back");
}

#[tokio::test]
async fn a_form_that_lacks_something_comes_back_as_it_was_sent() {
    let site = site();
    let visit = site.arrived().await;
    for (deed, fields, error, kept) in [
        (
            "own-sign",
            vec![("what", ""), ("note", "keep me")],
            "the observation is missing",
            "keep me",
        ),
        (
            "earlier-hands",
            vec![("what", ""), ("at", "keep me")],
            "what was seen is missing",
            "keep me",
        ),
        (
            "fault",
            vec![("fault", " "), ("note", "keep me")],
            "the fault is missing",
            "keep me",
        ),
        (
            "quote",
            vec![("note", "keep me")],
            "at least one line",
            "keep me",
        ),
        (
            "quote",
            vec![
                ("work.0.what", "keep me"),
                ("work.0.likely", "soon"),
                ("work.0.amount", "1"),
            ],
            "“soon” is not a number",
            "keep me",
        ),
        (
            "quote",
            vec![("part.0.what", "keep me")],
            "write 0 when it is free",
            "keep me",
        ),
        (
            "work",
            vec![("work", ""), ("note", "keep me")],
            "the work is missing",
            "keep me",
        ),
        (
            "work",
            vec![("work", "keep me"), ("minutes", "-x")],
            "is not a number",
            "keep me",
        ),
        (
            "part",
            vec![("part", "keep me"), ("grade", "gold")],
            "choose the part",
            "keep me",
        ),
        (
            "part",
            vec![("part", "keep me"), ("grade", "made"), ("quantity", "0")],
            "is not a whole number from 1",
            "keep me",
        ),
        (
            "shortfall",
            vec![("what", ""), ("correction", "keep me")],
            "is missing",
            "keep me",
        ),
        (
            "note",
            vec![("text", "  ")],
            "the note is missing",
            "A note",
        ),
        (
            "wait",
            vec![("wait_for", "rain"), ("what", "keep me")],
            "choose what it waits for",
            "keep me",
        ),
        (
            "stage",
            vec![("to", "lost"), ("note", "keep me")],
            "choose a stage",
            "keep me",
        ),
        (
            "removed",
            vec![("words", ""), ("note", "keep me")],
            "the piece is missing",
            "keep me",
        ),
        (
            "removed",
            vec![("words", "keep me"), ("cell", "x")],
            "is not a whole number",
            "keep me",
        ),
        (
            "photos",
            vec![("caption", "keep me")],
            "choose at least one photograph",
            "keep me",
        ),
        (
            "signs",
            vec![("sign.none", "yes")],
            "the notes have no sign",
            "Signs",
        ),
        (
            "circumstances",
            vec![("circumstance.none", "yes")],
            "the notes have no circumstance",
            "Signs",
        ),
    ] {
        let answer = site.post(&format!("{visit}/{deed}"), &fields).await;
        assert_eq!(
            answer.status,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{deed}: {}",
            answer.text()
        );
        answer
            .shows("Nothing is done yet.")
            .shows(error)
            .shows(kept);
    }
    assert_eq!(site.bench.visit(VisitId::new(1)).unwrap().faults.len(), 0);
}

#[tokio::test]
async fn an_arrival_that_lacks_something_keeps_words_and_photographs() {
    let site = site();
    let fields = [
        ("owner_name", ""),
        ("model", ""),
        ("words", "it rattles"),
        ("with", "case"),
        ("declared", "much"),
    ];
    let answer = site
        .upload("/arrive", &fields, &[("photo", "front.png", photograph())])
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("the owner's name is missing")
        .shows("the model, from the list or typed, is missing")
        .shows("“much” is not an amount")
        .shows("it rattles")
        .shows("1 photograph is kept");
    let page = answer.text();
    let start = page.find("name=\"kept\" value=\"").unwrap() + "name=\"kept\" value=\"".len();
    let kept: String = page[start..].chars().take_while(|&c| c != '"').collect();
    let kept = kept.replace("&quot;", "\"");
    let again = [
        ("owner_name", "Ada Wren"),
        ("model", "Box"),
        ("words", "it rattles"),
        ("kept", kept.as_str()),
    ];
    site.upload("/arrive", &again, &[]).await.goes_to();
    assert_eq!(site.bench.visit(VisitId::new(1)).unwrap().photos.len(), 1);
}

#[tokio::test]
async fn a_camera_that_comes_back_makes_a_new_visit_of_the_same_camera() {
    let site = site();
    site.arrived().await;
    for (to, fields) in [
        ("proved", vec![]),
        ("packed", vec![]),
        ("home", vec![("note", "fetched")]),
    ] {
        let mut all = vec![("to", to)];
        all.extend(fields);
        site.post("/visits/1/stage", &all).await.goes_to();
    }
    site.page("/arrive?camera=1")
        .await
        .shows("It has been here before")
        .shows("20417");
    let again = [
        ("camera", "1"),
        ("owner", "1"),
        ("words", "again"),
        ("guarantee_of", "1"),
    ];
    let answer = site.upload("/arrive", &again, &[]).await;
    assert!(answer.goes_to().starts_with("/visits/2"));
    site.page("/visits/2").await.shows("visit 1");
    site.page("/").await.shows("Came back under guarantee");
}

#[tokio::test]
async fn what_was_recorded_can_be_taken_back_and_stays_legible() {
    let site = site();
    let visit = site.arrived().await;
    let back = site
        .post(&format!("{visit}/note"), &[("text", "a slip of the pen")])
        .await
        .goes_to();
    let entry = back
        .split("recorded=")
        .nth(1)
        .unwrap()
        .split(['&', '#'])
        .next()
        .unwrap()
        .to_owned();
    let answer = site
        .post("/undo", &[("entry", &entry), ("back_to", &visit)])
        .await;
    let page = site.page(&answer.goes_to()).await;
    page.shows("class=\"struck\"")
        .shows("a slip of the pen")
        .shows("struck by entry");
    assert!(site.bench.visit(VisitId::new(1)).unwrap().notes.is_empty());
}

#[tokio::test]
async fn an_undo_leads_nowhere_else() {
    let site = site();
    let visit = site.arrived().await;
    for back_to in [
        "http://saltmere.example/",
        "//saltmere.example/",
        "/\\saltmere.example",
        "/\t/saltmere.example",
        "/visits/1\r\nx: y",
        "/\u{7f}",
        "",
    ] {
        let back = site
            .post(&format!("{visit}/note"), &[("text", "x")])
            .await
            .goes_to();
        let entry = back.split("recorded=").nth(1).unwrap().to_owned();
        let answer = site
            .post("/undo", &[("entry", &entry), ("back_to", back_to)])
            .await;
        assert!(answer.goes_to().starts_with("/?recorded="), "{back_to}");
    }
    let odd = site.post("/undo", &[("entry", "x")]).await;
    assert_eq!(odd.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn a_move_that_the_rules_forbid_says_why() {
    let site = site();
    let visit = site.arrived().await;
    let answer = site
        .post(&format!("{visit}/stage"), &[("to", "home")])
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("only when packed or returned unrepaired");
    assert_eq!(stage(&site), Stage::Arrived);
}

#[tokio::test]
async fn only_the_sign_saved_singly_is_recorded() {
    let site = site();
    let visit = site.arrived().await;
    let notes = site.bench.notes("corran-66").unwrap();
    let ids: Vec<String> = notes.signs.ids().take(2).map(ToString::to_string).collect();
    let (one, two) = (format!("sign.{}", ids[0]), format!("sign.{}", ids[1]));
    let fields = [
        (one.as_str(), "yes"),
        (two.as_str(), "no"),
        ("only", ids[1].as_str()),
    ];
    site.post(&format!("{visit}/signs"), &fields)
        .await
        .goes_to();
    let view = site.bench.visit(VisitId::new(1)).unwrap();
    assert_eq!(view.signs.len(), 1);
    assert_eq!(view.signs[0].what.sign.id.as_deref(), Some(ids[1].as_str()));
}

#[tokio::test]
async fn a_text_that_calls_itself_a_recording_is_refused_with_the_reason() {
    let site = site();
    let visit = site.arrived().await;
    let files = [("recording", "shots.wav", b"these are words".to_vec())];
    let fields = [("phase", "before"), ("limit", "shutter")];
    let answer = site
        .upload(&format!("{visit}/recording"), &fields, &files)
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("shots.wav").shows("Nothing is done yet.");
    let view = site.bench.visit(VisitId::new(1)).unwrap();
    assert!(view.readings.is_empty() && view.recordings.is_empty());
}

#[tokio::test]
async fn the_shutter_page_measures_a_recording_on_its_own() {
    let site = site();
    let files = [("recording", "dial.wav", recording())];
    let answer = site
        .upload("/shutter", &[("model", "corran-66")], &files)
        .await;
    site.page(&answer.goes_to())
        .await
        .shows("What dial.wav says")
        .shows("1/500")
        .shows("Shot 18")
        .shows("<svg");
    let typed = [
        ("kind", "leaf"),
        ("speeds", "1 1/2 nonsense"),
        ("limits", ""),
    ];
    let answer = site
        .upload(
            "/shutter",
            &typed,
            &[("recording", "dial.wav", recording())],
        )
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("nonsense")
        .shows("value=\"1 1/2 nonsense\"")
        .hides("What dial.wav says");
    let empty = site.post("/shutter", &[]).await;
    assert_eq!(empty.status, StatusCode::UNPROCESSABLE_ENTITY);
    empty.shows("choose a recording");
}

#[tokio::test]
async fn readings_typed_in_are_judged_against_their_limits() {
    let site = site();
    let visit = site.arrived().await;
    let notes = site.bench.notes("corran-66").unwrap();
    let (id, register) = notes
        .limits
        .iter()
        .find_map(|(id, limit)| match limit {
            fettle_notes::Limit::Register(it) => Some((id.to_string(), it.clone())),
            _ => None,
        })
        .unwrap();
    let off = (register.target_mm + 3.0 * register.limit_mm).to_string();
    let fields = [
        ("limit", id.as_str()),
        ("phase", "before"),
        ("value.0", &off),
        ("u.0", "0.005"),
    ];
    site.post(&format!("{visit}/reading"), &fields)
        .await
        .goes_to();
    site.page(&visit).await.shows("verdict out");
    let empty = site
        .post(
            &format!("{visit}/reading"),
            &[("limit", id.as_str()), ("phase", "after")],
        )
        .await;
    assert_eq!(empty.status, StatusCode::UNPROCESSABLE_ENTITY);
    empty.shows("write at least one reading");
}

/// Whatever is wrong is said once at the head of the page, even where the stage draws no such form.
#[tokio::test]
async fn every_form_that_is_refused_says_so() {
    let site = site();
    let visit = site.arrived().await;
    let refused = [
        ("removed", vec![("piece", "back"), ("cell", "abc")]),
        ("removed", vec![("piece", "no-such-part")]),
        ("came", vec![]),
        ("returned", vec![]),
        ("answer", vec![("agreed", "yes")]),
        ("sent", vec![("carrier", "post")]),
        ("setting", vec![]),
        ("reading", vec![("limit", "")]),
        ("recording", vec![("limit", "no-such-limit")]),
        ("fault", vec![]),
        ("work", vec![]),
        ("part", vec![]),
        ("quote", vec![]),
        ("own-sign", vec![]),
        ("earlier-hands", vec![]),
        ("shortfall", vec![]),
        ("note", vec![]),
        ("stage", vec![("to", "nowhere")]),
        ("wait", vec![("wait_for", "godot")]),
    ];
    for (deed, fields) in refused {
        let answer = site.post(&format!("{visit}/{deed}"), &fields).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{deed}");
        let boxes = answer.text().matches("class=\"problems\"").count();
        assert_eq!(boxes, 1, "{deed} {fields:?} says what is wrong once");
    }
}

#[tokio::test]
async fn a_removal_that_is_refused_keeps_what_was_typed() {
    let site = site();
    let visit = site.arrived().await;
    let fields = [
        ("piece", "back"),
        ("cell", "abc"),
        ("note", "hinge pin bent"),
    ];
    let answer = site.post(&format!("{visit}/removed"), &fields).await;
    answer
        .shows("hinge pin bent")
        .shows("href=\"#removed-back-cell\"")
        .shows("id=\"removed-back-cell\"");
}

#[tokio::test]
async fn a_reading_without_an_uncertainty_is_not_judged() {
    let site = site();
    let visit = site.arrived().await;
    let fields = [
        ("limit", "register"),
        ("phase", "after"),
        ("value.0", "78.52"),
    ];
    site.post(&format!("{visit}/reading"), &fields)
        .await
        .goes_to();
    let view = site.bench.visit(VisitId::new(1)).unwrap();
    assert_eq!(view.readings[0].what.rows[0].verdict, None);
    site.page(&visit).await.shows("not judged");
}

#[tokio::test]
async fn exposure_times_from_elsewhere_are_typed_in() {
    let site = site();
    let visit = site.arrived().await;
    let fields = [
        ("limit", "shutter"),
        ("phase", "after"),
        ("value.8", "4"),
        ("u.8", "0.04"),
    ];
    site.post(&format!("{visit}/reading"), &fields)
        .await
        .goes_to();
    let view = site.bench.visit(VisitId::new(1)).unwrap();
    let row = &view.readings[0].what.rows[0];
    assert_eq!(row.name, "1/500");
    assert!((row.error.unwrap() - 1.0).abs() < 1e-9, "{row:?}");
    assert_eq!(row.verdict, Some(fettle_bench::Verdict::Out));
}

#[tokio::test]
async fn an_owner_is_corrected() {
    let site = site();
    site.arrived().await;
    let back = site
        .post(
            "/owners/1/correct",
            &[("name", "Ada Wren-Mole"), ("phone", "12")],
        )
        .await
        .goes_to();
    site.page(&back)
        .await
        .shows("Ada Wren-Mole")
        .shows("Recorded:");
    let wrong = site
        .post("/owners/1/correct", &[("name", ""), ("phone", "34")])
        .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    wrong.shows("the name is missing").shows("value=\"34\"");
}

#[tokio::test]
async fn notes_that_are_no_longer_in_the_folder_are_named_without_a_link() {
    let site = site();
    let visit = site.arrived().await;
    site.page(&visit).await.shows("href=\"/models/corran-66\"");
    std::fs::remove_file(site.dir.path().join("notes/corran-66.toml")).unwrap();
    for path in [visit.as_str(), "/cameras/1"] {
        let page = site.page(path).await;
        page.shows("corran-66").hides("href=\"/models/corran-66\"");
    }
    site.page(&visit).await.shows("in the bench’s folder");
    site.page("/cameras/1").await.shows("not in the folder");
    // Notes that are there and cannot be used have a page that says what is wrong.
    std::fs::write(site.dir.path().join("notes/corran-66.toml"), "maker =").unwrap();
    site.page(&visit)
        .await
        .shows("href=\"/models/corran-66\"")
        .shows("cannot be used");
}

#[tokio::test]
async fn a_camera_is_corrected_with_its_serial_numbers() {
    let site = site();
    site.arrived().await;
    let page = site.page("/cameras/1").await;
    page.shows("Correct what is written here");
    let back = site
        .post(
            "/cameras/1/correct",
            &[
                ("note", "strap lug bent"),
                ("was.note", ""),
                ("serial.1.number", "L-77"),
                ("serial.1.at", "viewing lens"),
            ],
        )
        .await
        .goes_to();
    site.page(&back)
        .await
        .shows("strap lug bent")
        .shows("L-77")
        .shows("Recorded:");
    let wrong = site.post("/cameras/1/correct", &[("model", "")]).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    wrong.shows("the model’s name is missing");
    let nothing = site.post("/cameras/1/paint", &[]).await;
    assert_eq!(nothing.status, StatusCode::NOT_FOUND);
}
