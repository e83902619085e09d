//! Weighing the causes, the way in and back, and what visits teach, through the pages.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod support;

use axum::http::StatusCode;
use fettle_bench::{Found, Seen, VisitId};
use support::{Site, site};

fn view(site: &Site) -> fettle_bench::VisitView {
    site.bench.visit(VisitId::new(1)).unwrap()
}

#[tokio::test]
async fn an_answer_changes_the_chances_and_the_reasons_say_why() {
    let site = site();
    let visit = site.arrived().await;
    let before = site.page(&format!("{visit}?open=cause")).await;
    before
        .shows("What is likely")
        .shows("Look next: ")
        .hides("Why “");

    let answer = [("sign", "slow-speeds-hang"), ("seen", "yes")];
    let back = site.post(&format!("{visit}/look"), &answer).await;
    site.page(&back.goes_to())
        .await
        .shows("Do speeds from 1 s to 1/10 hang or stop half way? — yes");
    assert_eq!(view(&site).signs[0].what.seen, Seen::Yes);

    let why = site
        .page(&format!("{visit}?open=cause&why=hardened-grease"))
        .await;
    why.shows("Why “hardened grease on cocking ring and gear train”")
        .shows("for")
        .shows("raises the odds");
    let unknown = site
        .page(&format!("{visit}?open=cause&why=nothing-such"))
        .await;
    unknown.shows("have no fault `nothing-such`");

    let refused = site
        .post(
            &format!("{visit}/look"),
            &[("sign", "stranger"), ("seen", "yes")],
        )
        .await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    refused.shows("the notes have no sign “stranger”");
}

#[tokio::test]
async fn the_plan_is_drawn_on_asking() {
    let site = site();
    let visit = site.arrived().await;
    let page = site.page(&format!("{visit}?open=cause&plan=1")).await;
    page.shows("What to do next, and after each answer")
        .shows("Put the plan away");
}

#[tokio::test]
async fn the_way_leads_to_what_a_fault_needs_and_the_tray_comes_back_in_order() {
    let site = site();
    let visit = site.arrived().await;
    let found = [("fault", "hardened-grease"), ("found", "found")];
    site.post(&format!("{visit}/fault"), &found).await.goes_to();
    assert_eq!(view(&site).faults[0].what.found, Found::Found);

    let mut parts = Vec::new();
    loop {
        let page = site.page(&format!("{visit}?open=apart")).await.text();
        if page.contains(" is open.") {
            break;
        }
        let marker = "name=\"piece\" value=\"";
        let at = page.find(marker).expect("a step is in hand") + marker.len();
        let part: String = page[at..].chars().take_while(|c| *c != '"').collect();
        let cell = (parts.len() + 1).to_string();
        let fields = [("piece", part.as_str()), ("cell", cell.as_str())];
        site.post(&format!("{visit}/removed"), &fields)
            .await
            .goes_to();
        parts.push(part);
        assert!(parts.len() < 40, "the way does not end: {parts:?}");
    }
    assert!(parts.len() > 2, "{parts:?}");
    let apart = site.page(&format!("{visit}?open=apart")).await;
    apart.shows("The tray from above");

    // The first off cannot go back first: it would shut the others in.
    let first = view(&site).pieces[0].id;
    let early = site
        .page(&format!("{visit}?open=put-back&step={first}"))
        .await;
    early.shows("Out of its order").shows("it would shut in");
    for part in parts.iter().rev() {
        let kept = view(&site);
        let piece = kept
            .tray()
            .find(|it| it.what.piece.id.as_deref() == Some(part))
            .unwrap();
        let id = piece.id.to_string();
        site.post(&format!("{visit}/returned"), &[("piece", &id)])
            .await
            .goes_to();
    }
    site.page(&format!("{visit}?open=put-back"))
        .await
        .shows("The tray is empty");
}

#[tokio::test]
async fn a_part_behind_others_can_be_taken_in_hand_with_a_warning() {
    let site = site();
    let visit = site.arrived().await;
    let page = site
        .page(&format!("{visit}?open=apart&step=gear-train"))
        .await;
    page.shows("Take off: ")
        .shows("Out of its order")
        .shows("must be off first");
}

#[tokio::test]
async fn two_pieces_in_one_cell_are_told() {
    let site = site();
    let visit = site.arrived().await;
    for piece in ["spring", "ball"] {
        let fields = [("words", piece), ("cell", "3")];
        site.post(&format!("{visit}/removed"), &fields)
            .await
            .goes_to();
    }
    let page = site.page(&format!("{visit}?open=apart")).await;
    page.shows("Cell 3 holds 2: ").shows("Keep them apart");
}

#[tokio::test]
async fn a_fault_in_own_words_goes_into_the_notes() {
    let site = site();
    let visit = site.arrived().await;
    let own = [
        ("fault", "spool clutch slips"),
        ("found", "found"),
        ("is", "damage"),
    ];
    site.post(&format!("{visit}/fault"), &own).await.goes_to();
    site.page(&format!("{visit}?open=cause"))
        .await
        .shows("Add it to the service notes");
    let id = view(&site).faults[0].id.to_string();
    let bad = [("fault", id.as_str()), ("cured_by", "nothing-such")];
    let refused = site.post(&format!("{visit}/fault-to-notes"), &bad).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let good = [("fault", id.as_str()), ("cured_by", "clean-shutter")];
    site.post(&format!("{visit}/fault-to-notes"), &good)
        .await
        .goes_to();
    let notes = site.bench.notes("corran-66").unwrap();
    assert_eq!(
        notes.faults.get("spool-clutch-slips").unwrap().name,
        "spool clutch slips"
    );
    let kept = view(&site);
    assert_eq!(kept.faults.len(), 1);
    assert_eq!(
        kept.faults[0].what.fault.id.as_deref(),
        Some("spool-clutch-slips")
    );
}

#[tokio::test]
async fn the_page_of_a_model_tells_what_visits_taught() {
    let site = site();
    site.page("/models/corran-66")
        .await
        .shows("No visit of this model is finished yet");
}

#[tokio::test]
async fn nothing_kept_from_before_is_told_after_a_change() {
    let site = site();
    let visit = site.arrived().await;
    let causes = format!("{visit}?open=cause");
    let chances = |page: &support::Answer| -> Vec<String> {
        let text = page.text();
        let likely = text.split("id=\"likely\"").nth(1).unwrap();
        let table = likely.split("id=\"looks\"").next().unwrap();
        let cells = table.split("<td class=\"num\">").skip(1);
        let told = cells.map(|cell| cell.split('<').next().unwrap().to_owned());
        told.collect()
    };
    let at_first = chances(&site.page(&causes).await);
    assert!(at_first.len() > 10, "{at_first:?}");
    assert_eq!(chances(&site.page(&causes).await), at_first);
    let answer = [("sign", "slow-speeds-hang"), ("seen", "yes")];
    site.post(&format!("{visit}/look"), &answer).await.goes_to();
    assert_ne!(chances(&site.page(&causes).await), at_first);

    // The page of the notes, and what the chances are weighed by.
    let model = site.page("/models/corran-66").await;
    model.hides("spool clutch slips");
    let addition = "\n[fault.spool-clutch-slips]\nname = \"spool clutch slips\"\nis = \"cause\"\nleak = 0.3\ncured_by = [\"clean-shutter\"]\n";
    site.bench.extend_notes("corran-66", addition).unwrap();
    for page in ["/models/corran-66", &causes] {
        site.page(page).await.shows("spool clutch slips");
    }
}
