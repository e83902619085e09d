//! Drawers, parts, counting and donors through their pages.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod support;

use axum::http::StatusCode;
use fettle_bench::{DonorId, DrawerId, Grade, LotId, Page, PartId, VisitId};
use support::{Answer, Site, site};

/// A drawer with six wind pawls of the Corran in it.
async fn stocked() -> Site {
    let site = site();
    let drawer = site
        .post("/drawers", &[("name", "A1"), ("place", "by the window")])
        .await;
    assert!(drawer.goes_to().starts_with("/drawers/1?recorded="));
    let stored = store(
        &site,
        &[("quantity", "6"), ("drawer", "1"), ("minimum", "5")],
    )
    .await;
    assert!(stored.goes_to().starts_with("/drawers/parts/1?recorded="));
    site
}

async fn store(site: &Site, more: &[(&str, &str)]) -> Answer {
    let mut fields = vec![
        ("notes", "corran-66"),
        ("part", "wind pawl"),
        ("grade", "original"),
        ("price", "4,50"),
        ("source", "the clockmaker's estate"),
    ];
    fields.extend(more);
    site.post("/drawers/store", &fields).await
}

fn quantity(site: &Site) -> u32 {
    site.bench.lot(LotId::new(1)).unwrap().quantity
}

/// The value of a hidden field.
fn hidden(page: &str, name: &str) -> String {
    let start = format!("name=\"{name}\" value=\"");
    let value = page.split(&start).nth(1).unwrap();
    value.split('"').next().unwrap().to_owned()
}

#[tokio::test]
async fn parts_put_away_stand_in_their_drawer_with_grade_and_price() {
    let site = stocked().await;
    let lot = site.bench.lot(LotId::new(1)).unwrap();
    assert_eq!(lot.of.part.id.as_deref(), Some("wind-pawl"));
    assert_eq!(lot.of.model, "Aldous Corran 66");
    assert_eq!((lot.grade, lot.quantity), (Grade::Original, 6));
    assert_eq!(lot.price.unwrap().to_string(), "EUR 4.50");
    let list = site.page("/drawers").await;
    list.shows("6 pieces of 1 part in 1 drawer")
        .shows("wind pawl</a>")
        .shows("6 original")
        .shows("aria-current=\"page\">Drawers");
    site.page("/drawers/1").await.shows("by the window");
    site.page("/drawers/parts/1")
        .await
        .shows("of the Aldous Corran 66")
        .shows("Fits too")
        .shows("wind pawl: pieces left by date")
        .shows("To buy once, to last 5 years")
        .shows("EUR 4.50");
}

#[tokio::test]
async fn a_part_put_away_wrongly_comes_back_with_everything_said_and_typed() {
    let site = stocked().await;
    let answer = store(
        &site,
        &[
            ("quantity", "many"),
            ("drawer", ""),
            ("minimum", "-1"),
            ("note", "in a tin"),
        ],
    )
    .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("“many” is not a whole number from 1")
        .shows("choose the drawer")
        .shows("“-1” is not a whole number from 0")
        .shows("value=\"in a tin\"")
        .shows("id=\"store-quantity\"");
    let both = store(
        &site,
        &[("quantity", "1"), ("drawer", "1"), ("model", "Aldous Wren")],
    )
    .await;
    assert_eq!(both.status, StatusCode::UNPROCESSABLE_ENTITY);
    both.shows("a model is chosen beside it");
    let nowhere = store(&site, &[("quantity", "1"), ("drawer", "77")]).await;
    assert_eq!(nowhere.status, StatusCode::NOT_FOUND);
    assert_eq!(site.bench.drawer(DrawerId::new(1)).unwrap().lots.len(), 1);
    let again = site.post("/drawers", &[("name", "a1")]).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY);
    again.shows("There is already a drawer a1");
}

#[tokio::test]
async fn a_part_taken_in_a_visit_stands_among_its_parts_and_can_be_brought_back() {
    let site = stocked().await;
    let visit = site.arrived().await;
    let open = format!("{visit}?open=repaired");
    site.page(&open)
        .await
        .shows("wind pawl: 6 original in A1, EUR 4.50 each");
    let fields = [("lot", "1"), ("quantity", "2"), ("price", "9")];
    let went = site.post(&format!("{visit}/take"), &fields).await.goes_to();
    site.page(&went)
        .await
        .shows("took 2 × wind pawl, Aldous Corran 66 (original) from drawer A1 for visit 1")
        .shows("EUR 18.00")
        .shows("Bring back to A1");
    assert_eq!(quantity(&site), 4);
    let short = site.page("/").await;
    short
        .shows("Drawers that will not last")
        .shows("4 left")
        .shows("minimum 5");
    site.page("/drawers")
        .await
        .shows("1 below the minimum")
        .shows("fewer are there");

    let too_many = [("taken", "2"), ("quantity", "3")];
    let answer = site.post(&format!("{visit}/bring-back"), &too_many).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("only 2 of what was taken are still out")
        .shows("value=\"3\"");
    let back = [("taken", "2"), ("quantity", "1")];
    site.post(&format!("{visit}/bring-back"), &back)
        .await
        .goes_to();
    assert_eq!(quantity(&site), 5);
    let view = site.bench.visit(VisitId::new(1)).unwrap();
    assert_eq!(view.parts[0].what.quantity, 1);
    let nothing = site
        .post(&format!("{visit}/bring-back"), &[("taken", "9")])
        .await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY);
    nothing.shows("brought back already");
}

#[tokio::test]
async fn more_than_there_is_comes_back_with_how_many_are_left() {
    let site = stocked().await;
    let visit = site.arrived().await;
    let fields = [("lot", "1"), ("quantity", "7"), ("note", "all of them")];
    for path in [format!("{visit}/take"), "/drawers/parts/1/take".to_owned()] {
        let answer = site.post(&path, &fields).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
        answer
            .shows("only 6 are left of wind pawl")
            .shows("id=\"take-quantity\"")
            .shows("value=\"all of them\"");
    }
    assert_eq!(quantity(&site), 6);
}

#[tokio::test]
async fn a_taking_sent_twice_is_recorded_once() {
    let site = stocked().await;
    let token = hidden(&site.page("/drawers/parts/1").await.text(), "once");
    let fields = [("once", token.as_str()), ("lot", "1"), ("quantity", "1")];
    let (one, two) = tokio::join!(
        site.post("/drawers/parts/1/take", &fields),
        site.post("/drawers/parts/1/take", &fields)
    );
    assert_eq!(one.goes_to(), two.goes_to());
    assert_eq!(quantity(&site), 5);
}

#[tokio::test]
async fn a_part_taken_for_something_else_is_brought_back_on_its_page() {
    let site = stocked().await;
    let fields = [
        ("lot", "1"),
        ("quantity", "2"),
        ("note", "for the pattern board"),
    ];
    site.post("/drawers/parts/1/take", &fields).await.goes_to();
    site.page("/drawers/parts/1")
        .await
        .shows("Taken for something else")
        .shows("for the pattern board");
    let priced = [("lot", "1"), ("price", "3")];
    let answer = site.post("/drawers/parts/1/take", &priced).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("a price is for a visit");
    let back = [("taken", "2"), ("quantity", "2")];
    site.post("/drawers/parts/1/back", &back).await.goes_to();
    assert_eq!(quantity(&site), 6);
    site.page("/drawers/parts/1")
        .await
        .hides("Taken for something else");
}

#[tokio::test]
async fn a_drawer_is_counted_in_one_form_and_nothing_typed_is_lost_when_one_line_is_wrong() {
    let site = stocked().await;
    let springs = [
        ("notes", ""),
        ("part", "light spring"),
        ("grade", "made"),
        ("quantity", "9"),
        ("drawer", "1"),
    ];
    site.post("/drawers/store", &springs).await.goes_to();
    let wrong = [
        ("count.1", "5"),
        ("was.count.1", "6"),
        ("count.2", "some"),
        ("was.count.2", "9"),
        ("note", "after the move"),
    ];
    let answer = site.post("/drawers/1/count", &wrong).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("“some” is not a whole number from 0")
        .shows("id=\"count-count-1\" name=\"count.1\" value=\"5\"")
        .shows("value=\"some\"")
        .shows("value=\"after the move\"");
    assert_eq!(quantity(&site), 6);

    let right = [
        ("count.1", "5"),
        ("was.count.1", "6"),
        ("count.2", ""),
        ("was.count.2", "9"),
    ];
    let went = site.post("/drawers/1/count", &right).await.goes_to();
    site.page(&went)
        .await
        .shows("wind pawl, Aldous Corran 66 (original) 5 instead of 6 (-1)")
        .shows(">5, <strong>\u{2212}1</strong>");
    assert_eq!(quantity(&site), 5);
    let nothing = site.post("/drawers/1/count", &[("count.1", "")]).await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY);
    nothing.shows("count at least one line");
}

#[tokio::test]
async fn a_count_made_while_another_hand_took_a_piece_is_asked_for_again() {
    let site = stocked().await;
    site.post("/drawers/parts/1/take", &[("lot", "1")])
        .await
        .goes_to();
    let older = [("count.1", "6"), ("was.count.1", "6")];
    let answer = site.post("/drawers/1/count", &older).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("6 were written when this page was drawn, 5 are now")
        .shows("name=\"was.count.1\" value=\"5\"");
    assert_eq!(quantity(&site), 5);
    let again = [("count.1", "5"), ("was.count.1", "5")];
    site.post("/drawers/1/count", &again).await.goes_to();

    site.post("/drawers", &[("name", "B2")]).await.goes_to();
    let moved = [("lot", "1"), ("drawer", "2"), ("quantity", "")];
    site.post("/drawers/parts/1/move", &moved).await.goes_to();
    let gone = site.post("/drawers/1/count", &again).await;
    assert_eq!(gone.status, StatusCode::UNPROCESSABLE_ENTITY);
    gone.shows("was taken out or moved meanwhile");
}

#[tokio::test]
async fn two_hands_that_correct_a_lot_or_a_minimum_do_not_overwrite_each_other() {
    let site = stocked().await;
    let minimum = [("minimum", "8"), ("was.minimum", "5")];
    site.post("/drawers/parts/1/minimum", &minimum)
        .await
        .goes_to();
    let older = [("minimum", "2"), ("was.minimum", "5")];
    let answer = site.post("/drawers/parts/1/minimum", &older).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("now says “8”").shows("value=\"2\"");

    let source = [
        ("lot", "1"),
        ("source", "the market"),
        ("was.source", "the clockmaker's estate"),
    ];
    site.post("/drawers/parts/1/correct", &source)
        .await
        .goes_to();
    let grade = [
        ("lot", "1"),
        ("grade", "reproduction"),
        ("was.grade", "original"),
        ("source", "the clockmaker's estate"),
        ("was.source", "the clockmaker's estate"),
    ];
    site.post("/drawers/parts/1/correct", &grade)
        .await
        .goes_to();
    let lot = site.bench.lot(LotId::new(1)).unwrap();
    assert_eq!(
        (lot.grade, lot.source.as_str()),
        (Grade::Reproduction, "the market")
    );
    assert_eq!(lot.price.unwrap().to_string(), "EUR 4.50");
    let named = [
        ("name", "A7"),
        ("was.name", "A1"),
        ("place", ""),
        ("was.place", ""),
    ];
    site.post("/drawers/1/name", &named).await.goes_to();
    let line = site.bench.drawer(DrawerId::new(1)).unwrap().line;
    assert_eq!(
        (line.name.as_str(), line.place.as_str()),
        ("A7", "by the window")
    );
}

#[tokio::test]
async fn the_list_is_narrowed_and_ordered_by_its_address() {
    let site = stocked().await;
    let foam = [
        ("notes", ""),
        ("part", "seal <foam>"),
        ("grade", "made"),
        ("quantity", "2"),
        ("drawer", "1"),
    ];
    site.post("/drawers/store", &foam).await.goes_to();
    let shown = |query: &str| {
        let path = format!("/drawers?{query}");
        let site = &site;
        async move {
            let page = site.page(&path).await.text();
            (
                page.contains(">wind pawl</a>"),
                page.contains("seal &lt;foam&gt;</a>"),
            )
        }
    };
    assert_eq!(shown("").await, (true, true));
    assert_eq!(shown("q=PAWL").await, (true, false));
    assert_eq!(shown("model=corran-66").await, (true, false));
    assert_eq!(shown("grade=made&drawer=1").await, (false, true));
    assert_eq!(shown("below=1").await, (false, false));
    assert_eq!(shown("skip=4000000000").await, (false, false));
    site.page("/drawers?by=model").await.shows("of no model");
    site.page("/drawers?by=drawer")
        .await
        .shows(">drawer A1</th>");
    for path in [
        "/drawers/9",
        "/drawers/x",
        "/drawers/parts/9",
        "/donors/9",
        "/donors/x",
    ] {
        assert_eq!(site.get(path).await.status, StatusCode::NOT_FOUND, "{path}");
    }
    for path in ["/drawers/1/x", "/drawers/parts/1/x"] {
        assert_eq!(
            site.post(path, &[]).await.status,
            StatusCode::NOT_FOUND,
            "{path}"
        );
    }
}

#[tokio::test]
async fn labels_carry_the_address_and_a_scanned_one_leads_to_the_drawer() {
    let site = stocked().await;
    site.page("/drawers/labels")
        .await
        .shows("Code of the address http://127.0.0.1:7700/drawers/1")
        .shows("<svg");
    site.page("/drawers/labels?drawer=1")
        .await
        .shows(">A1</div>");
    let found = site
        .get("/find?q=http%3A%2F%2F127.0.0.1%3A7700%2Fdrawers%2F1")
        .await;
    assert_eq!(found.goes_to(), "/drawers/1");
    site.page("/find?q=pawl")
        .await
        .shows("href=\"/drawers/parts/1\"");
}

#[tokio::test]
async fn a_donor_gives_its_parts_to_a_drawer_or_to_a_visit() {
    let site = stocked().await;
    let visit = site.arrived().await;
    let donor = [
        ("notes", "corran-66"),
        ("serial", "20933"),
        ("condition", "lens fogged"),
        ("whole", "1"),
    ];
    let went = site.post("/donors", &donor).await.goes_to();
    assert!(went.starts_with("/donors/1?recorded="), "{went}");
    let view = || site.bench.donor(DonorId::new(1)).unwrap();
    let pawl = view()
        .parts
        .into_iter()
        .find(|part| part.on.part.id.as_deref() == Some("wind-pawl"))
        .unwrap();
    let id = pawl.id.to_string();
    site.page("/donors/1")
        .await
        .shows("lens fogged")
        .shows("wind pawl, not looked");
    site.page("/donors").await.shows("20933");

    let (state, was) = (format!("state.{id}"), format!("was.state.{id}"));
    let look = [(state.as_str(), "good"), (was.as_str(), "not-looked")];
    site.post("/donors/1/look", &look).await.goes_to();
    site.page("/drawers/parts/1").await.shows("1 × good");
    let contrary = [(state.as_str(), "spoiled"), (was.as_str(), "not-looked")];
    let answer = site.post("/donors/1/look", &contrary).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("now says “good”");
    let known = [("part", "wind pawl")];
    let answer = site.post("/donors/1/look", &known).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("stands in the table already");
    let own = [("part", "strap lug"), ("quantity", "2"), ("state", "worn")];
    site.post("/donors/1/look", &own).await.goes_to();

    let take = [("part", id.as_str()), ("to", "visit-1"), ("price", "6")];
    site.post("/donors/1/take", &take).await.goes_to();
    let fitted = site.bench.visit(VisitId::new(1)).unwrap().parts;
    assert_eq!(fitted[0].what.grade, Grade::Salvaged);
    assert_eq!(fitted[0].what.price.unwrap().to_string(), "EUR 6.00");
    let answer = site.post("/donors/1/take", &take).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("but 0 of wind pawl are left on donor 1");

    let page = site.page(&format!("{visit}?open=repaired")).await;
    page.shows("Drawer to bring it to");
    let taken = site.bench.visit(VisitId::new(1)).unwrap().taken[0]
        .id
        .to_string();
    let back = |drawer: &'static str| vec![("taken", taken.clone()), ("drawer", drawer.to_owned())];
    for (drawer, status) in [
        ("", StatusCode::UNPROCESSABLE_ENTITY),
        ("1", StatusCode::SEE_OTHER),
    ] {
        let fields = back(drawer);
        let fields: Vec<(&str, &str)> = fields.iter().map(|(k, v)| (*k, v.as_str())).collect();
        let answer = site.post(&format!("{visit}/bring-back"), &fields).await;
        assert_eq!(answer.status, status, "{drawer}: {}", answer.text());
    }
    let part = site.bench.part(PartId::new(1)).unwrap().line;
    assert_eq!(part.by_grade.get(&Grade::Salvaged), Some(&1));
    let all = site.bench.journal(Page::first(100)).unwrap();
    assert!(all.lines.iter().any(|entry| entry.kind == "part-salvaged"));
}
