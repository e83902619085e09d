//! What passes between mechanic and owner: terms, alternatives, bills, papers, mails, and the way home.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod support;

use axum::http::StatusCode;
use fettle_bench::{Decimal, PaperKind, QuoteKind, Stage, VisitId, VisitView};
use support::{Site, site};

fn view(site: &Site) -> VisitView {
    site.bench.visit(VisitId::new(1)).unwrap()
}

async fn settled(site: &Site) {
    let terms = [
        ("tax_name", "VAT"),
        ("tax", "23"),
        ("deposit", "30"),
        ("quote_days", "30"),
        ("pay_days", "14"),
        ("guarantee_repair", "180"),
        ("guarantee_overhaul", "365"),
        ("payment", "Harbour bank, account 4711"),
        ("country", "xs"),
    ];
    site.post("/settings", &terms).await.goes_to();
}

async fn quoted(site: &Site, visit: &str, kind: &str, amount: &str) {
    let quote = [
        ("kind", kind),
        ("work.0.what", "clean it"),
        ("work.0.likely", "60"),
        ("work.0.nine", "90"),
        ("work.0.amount", amount),
        ("tax", "23"),
        ("deposit", "30"),
        ("waits", "yes"),
    ];
    site.post(&format!("{visit}/quote"), &quote).await.goes_to();
}

#[tokio::test]
async fn terms_are_settled_and_the_name_follows_at_once() {
    let site = site();
    settled(&site).await;
    let settings = site.bench.settings().unwrap();
    assert_eq!(settings.tax_percent, Some(Decimal::from(23)));
    assert_eq!(settings.country, "XS");
    site.post(
        "/settings",
        &[
            ("name", "Saltmere Cameras"),
            ("was.name", "The bench at Saltmere"),
        ],
    )
    .await
    .goes_to();
    site.page("/").await.shows("Saltmere Cameras");
    let wrong = site
        .post("/settings", &[("currency", "euro"), ("tax", "x")])
        .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    wrong
        .shows("is not a currency")
        .shows("“x” is not from 0 to 100 %");
}

#[tokio::test]
async fn of_alternatives_side_by_side_one_is_agreed_to_and_the_others_fall() {
    let site = site();
    settled(&site).await;
    let visit = site.arrived().await;
    quoted(&site, &visit, "repair", "100").await;
    quoted(&site, &visit, "overhaul", "200").await;
    site.page(&format!("{visit}?open=quote"))
        .await
        .shows("Side by side")
        .shows("246.00")
        .shows("73.80");
    site.post(
        &format!("{visit}/answer"),
        &[("quote", "2"), ("words", "all of it")],
    )
    .await
    .goes_to();
    let now = view(&site);
    assert_eq!(now.line.stage, Stage::Agreed);
    assert!(now.quotes.iter().all(|quote| quote.answer.is_some()));
    let agreed = now.agreed();
    assert_eq!(agreed.len(), 1);
    assert_eq!(agreed[0].what.kind, QuoteKind::Overhaul);
}

#[tokio::test]
async fn extra_work_counts_only_when_it_was_answered() {
    let site = site();
    settled(&site).await;
    let visit = site.arrived().await;
    quoted(&site, &visit, "repair", "100").await;
    site.post(&format!("{visit}/answer"), &[("quote", "1")])
        .await
        .goes_to();
    quoted(&site, &visit, "extra", "40").await;
    assert_eq!(view(&site).agreed().len(), 1);
    site.page(&format!("{visit}?open=quote"))
        .await
        .shows("Not agreed yet");
    let answer = [("extra", "2"), ("agreed", "yes"), ("words", "go on")];
    site.post(&format!("{visit}/answer"), &answer)
        .await
        .goes_to();
    assert_eq!(view(&site).agreed().len(), 2);
    let again = site.post(&format!("{visit}/answer"), &answer).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn a_bill_is_paid_in_part_and_taken_back_in_part_and_its_numbers_have_no_gap() {
    let site = site();
    settled(&site).await;
    let visit = site.arrived().await;
    quoted(&site, &visit, "repair", "100").await;
    site.post(&format!("{visit}/answer"), &[("quote", "1")])
        .await
        .goes_to();
    site.page(&format!("{visit}?open=bill"))
        .await
        .shows("clean it")
        .shows("100.00");
    let bill = [
        ("line.0.words", "clean it"),
        ("line.0.amount", "100"),
        ("line.0.tax", "23"),
        ("line.1.words", "discount"),
        ("line.1.amount", "-10"),
        ("line.1.tax", "23"),
        ("due", "2026-12-09"),
    ];
    site.post(&format!("{visit}/bill"), &bill).await.goes_to();
    let payment = [("amount", "30,70"), ("how", "transfer")];
    site.post(&format!("{visit}/payment"), &payment)
        .await
        .goes_to();
    let credit = [
        ("bill", "1"),
        ("credit.0", "20"),
        ("reason", "billed twice"),
    ];
    site.post(&format!("{visit}/credit"), &credit)
        .await
        .goes_to();
    let now = view(&site);
    let bill = &now.bills[0];
    assert_eq!(bill.totals.gross.to_string(), "110.70");
    assert_eq!(bill.credits[0].id.get(), 2);
    // 110.70 - 24.60 - 30.70
    assert_eq!(bill.open.normalize().to_string(), "55.4");
    site.page(&format!("{visit}?open=bill"))
        .await
        .shows("Still to be paid")
        .shows("55.40")
        .shows("billed twice");
    let too_much = [("bill", "1"), ("credit.0", "500"), ("reason", "no")];
    let refused = site.post(&format!("{visit}/credit"), &too_much).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let missing = site
        .post(&format!("{visit}/bill"), &[("line.0.words", "x")])
        .await;
    missing.shows("the amount for “x” is missing");
    for paper in ["bill-1", "credit-2"] {
        let pdf = site.page(&format!("{visit}/papers/{paper}/pdf")).await;
        assert!(pdf.bytes.starts_with(b"%PDF-"), "{paper}");
    }
    let none = site.get(&format!("{visit}/papers/bill-9")).await;
    assert_eq!(none.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn papers_are_looked_at_kept_and_go_with_a_mail() {
    let site = site();
    settled(&site).await;
    let visit = site.arrived().await;
    quoted(&site, &visit, "repair", "100").await;
    for paper in ["receipt", "quote", "report", "labels"] {
        site.page(&format!("{visit}/papers/{paper}"))
            .await
            .shows("data:image/svg+xml;base64,")
            .shows("Keep it with the visit");
    }
    site.post(&format!("{visit}/paper"), &[("paper", "quote")])
        .await
        .goes_to();
    site.page(&format!("{visit}?open=papers&mail=quoted"))
        .await
        .shows("Dear Ada Wren")
        .shows("ada@wren.example")
        .shows("name=\"paper\" value=\"1\" checked");
    // Of two quotes kept the later one goes with the mail.
    site.post(&format!("{visit}/paper"), &[("paper", "quote")])
        .await
        .goes_to();
    site.page(&format!("{visit}?open=papers&mail=quoted"))
        .await
        .shows("name=\"paper\" value=\"2\" checked")
        .hides("name=\"paper\" value=\"1\" checked");
    let mail = [
        ("to", "ada@wren.example"),
        ("subject", "Your camera"),
        ("body", "Dear Ada,\n\nhere is the quote."),
        ("paper", "1"),
    ];
    site.post(&format!("{visit}/mail"), &mail).await.goes_to();
    let now = view(&site);
    assert_eq!(now.papers[2].what.paper, PaperKind::MailDraft);
    let draft = site.page("/papers/3").await;
    assert_eq!(draft.headers["content-type"], "message/rfc822");
    draft
        .shows("X-Unsent: 1")
        .shows("multipart/mixed")
        .shows("application/pdf");
    let strange = site
        .post(
            &format!("{visit}/mail"),
            &[("subject", "x"), ("body", "y"), ("paper", "77")],
        )
        .await;
    assert_eq!(strange.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn a_parcel_is_weighed_declared_held_and_sent_with_its_guarantee() {
    let site = site();
    settled(&site).await;
    let visit = site.arrived().await;
    quoted(&site, &visit, "repair", "100").await;
    site.post(&format!("{visit}/answer"), &[("quote", "1")])
        .await
        .goes_to();
    site.post(&format!("{visit}/stage"), &[("to", "proved")])
        .await
        .goes_to();
    let packed = [
        ("item", "case"),
        ("weight", "1250"),
        ("cells", "yes"),
        ("declared.0.what", "used mechanical camera"),
        ("declared.0.pieces", "1"),
        ("declared.0.hs", "9006"),
        ("declared.0.origin", "xs"),
        ("declared.0.value", "240.50"),
    ];
    site.post(&format!("{visit}/packed"), &packed)
        .await
        .goes_to();
    for paper in ["packing-list", "declaration"] {
        site.page(&format!("{visit}/papers/{paper}"))
            .await
            .shows("data:image/svg");
    }
    let hold = [("reason", "the owner is away"), ("again", "2026-12-24")];
    site.post(&format!("{visit}/hold"), &hold).await.goes_to();
    site.page("/going-home").await.shows("the owner is away");
    site.page("/calendar.ics")
        .await
        .shows("BEGIN:VCALENDAR")
        .shows("20261224");
    site.post(&format!("{visit}/hold-ended"), &[("hold", "1")])
        .await
        .goes_to();
    site.page("/going-home")
        .await
        .shows("Cells in the parcel")
        .shows("1.25 kg");
    let trip = [
        ("visit", "1"),
        ("tracking.1", "HP 42"),
        ("carrier", "Harbour post"),
    ];
    site.post("/going-home/sent", &trip).await.goes_to();
    let now = view(&site);
    assert_eq!(now.line.stage, Stage::Home);
    assert_eq!(now.sent[0].what.guarantee_days, Some(180));
    assert_eq!(
        now.line.guarantee_until.unwrap().to_string(),
        "2027-05-24",
        "180 days after 2026-11-25"
    );
    let nothing = site.post("/going-home/sent", &[]).await;
    nothing.shows("tick the parcels that left");
}

#[tokio::test]
async fn the_papers_of_a_parcel_are_offered_where_they_can_be_made() {
    let site = site();
    let visit = site.arrived().await;
    let (list, declaration) = (
        format!("href=\"{visit}/papers/packing-list\""),
        format!("href=\"{visit}/papers/declaration\""),
    );
    for to in ["proved", "packed"] {
        site.post(&format!("{visit}/stage"), &[("to", to)])
            .await
            .goes_to();
    }
    let page = site.page("/going-home").await;
    page.shows("Packed, to be sent")
        .hides(&list)
        .hides(&declaration);
    site.post(&format!("{visit}/packed"), &[("item", "case")])
        .await
        .goes_to();
    let page = site.page("/going-home").await;
    page.shows(&list).hides(&declaration);
    let declared = [
        ("item", "case"),
        ("declared.0.what", "used mechanical camera"),
        ("declared.0.pieces", "1"),
        ("declared.0.value", "240.50"),
    ];
    site.post(&format!("{visit}/packed"), &declared)
        .await
        .goes_to();
    let page = site.page("/going-home").await;
    page.shows(&list).shows(&declaration);
    site.page(&format!("{visit}/papers/declaration")).await;
}

#[tokio::test]
async fn an_owner_s_papers_are_in_their_language() {
    let site = site();
    let visit = site.arrived().await;
    site.post(
        "/owners/1/correct",
        &[("language", "de"), ("country", "xm")],
    )
    .await
    .goes_to();
    site.page(&format!("{visit}?open=papers&mail=arrived"))
        .await
        .hides("Dear Ada Wren");
    site.page("/owners/1").await.shows("German").shows("XM");
}

#[tokio::test]
async fn what_was_learned_stands_on_a_page_and_in_files() {
    let site = site();
    site.page("/learned")
        .await
        .shows("No visit that is asked for is finished yet");
    settled(&site).await;
    let visit = site.arrived().await;
    site.post(
        &format!("{visit}/fault"),
        &[("fault", "grease hard"), ("found", "found")],
    )
    .await
    .goes_to();
    quoted(&site, &visit, "repair", "100").await;
    site.post(&format!("{visit}/answer"), &[("quote", "1")])
        .await
        .goes_to();
    let work = [("work", "clean it"), ("minutes", "80")];
    site.post(&format!("{visit}/work"), &work).await.goes_to();
    let bill = [
        ("line.0.words", "clean it"),
        ("line.0.amount", "100"),
        ("line.0.tax", "23"),
    ];
    site.post(&format!("{visit}/bill"), &bill).await.goes_to();
    site.post(&format!("{visit}/stage"), &[("to", "proved")])
        .await
        .goes_to();
    site.page("/learned?model=corran-66")
        .await
        .shows("grease hard")
        .shows("held in")
        .shows("Income by month, EUR");
    for (file, line) in [
        ("faults", "grease hard"),
        ("minutes", "1,60,90,80"),
        ("income", "2026-11,EUR,100"),
        ("parts", "part,grade,pieces"),
        ("came-back", "earlier_visit"),
        ("days", "days"),
    ] {
        let csv = site.page(&format!("/learned/{file}.csv")).await;
        assert_eq!(csv.headers["content-type"], "text/csv; charset=utf-8");
        csv.shows(line);
    }
    let none = site.get("/learned/secrets.csv").await;
    assert_eq!(none.status, StatusCode::NOT_FOUND);
    site.page("/models/corran-66")
        .await
        .shows("What its finished visits add up to");
}

/// What a hidden field of the page holds.
fn hidden(page: &str, name: &str) -> String {
    let start = format!("name=\"{name}\" value=\"");
    let from = page.find(&start).unwrap() + start.len();
    let held = page[from..].split('"').next().unwrap();
    held.replace("&quot;", "\"")
}

#[tokio::test]
async fn a_table_is_looked_at_first_and_taken_in_whole_or_not_at_all() {
    let site = site();
    let table =
        "Vorname;Nachname;E-Mail\nMarit;Halvarsen;marit@example.org\nBo;Lind;bo@example.org\n";
    let looked = site
        .upload(
            "/import",
            &[("kind", "owners")],
            &[("table", "owners.csv", table.as_bytes().to_vec())],
        )
        .await;
    assert_eq!(looked.status, StatusCode::OK);
    looked
        .shows("2 would come in")
        .shows("Take in 2 rows")
        .shows("<option value=\"Vorname\" selected>");
    assert_eq!(
        site.bench
            .owners(fettle_bench::Page::first(9))
            .unwrap()
            .total,
        0
    );
    let page = looked.text();
    let (file, reading) = (hidden(&page, "file"), hidden(&page, "looked"));
    let with = |email| {
        [
            ("kind", "owners"),
            ("file", file.as_str()),
            ("looked", reading.as_str()),
            ("mapped", "yes"),
            ("map.given-name", "Vorname"),
            ("map.family-name", "Nachname"),
            ("map.email", email),
            ("act", "bring"),
        ]
    };
    let unseen = site.post("/import", &with("")).await;
    assert_eq!(unseen.status, StatusCode::UNPROCESSABLE_ENTITY);
    unseen.shows("changed since you looked");
    let back = site.post("/import", &with("E-Mail")).await.goes_to();
    site.page(&back).await.shows("2 rows were taken in");
    assert_eq!(
        site.bench
            .owners(fettle_bench::Page::first(9))
            .unwrap()
            .total,
        2
    );

    let bad = "serial,model\n20417,Pilot\n20417,Sprat\n";
    let looked = site
        .upload(
            "/import",
            &[("kind", "cameras")],
            &[("table", "cameras.csv", bad.as_bytes().to_vec())],
        )
        .await;
    looked.shows("What is wrong").hides("value=\"bring\"");
    // A table without a column for something it needs may have one value for every row.
    let lacking = "serial,colour\n20417,black\n20418,chrome\n";
    let looked = site
        .upload(
            "/import",
            &[("kind", "cameras")],
            &[("table", "cameras.csv", lacking.as_bytes().to_vec())],
        )
        .await;
    looked.shows("no column holds");
    let page = looked.text();
    let file = hidden(&page, "file");
    let fields = [
        ("kind", "cameras"),
        ("file", file.as_str()),
        ("mapped", "yes"),
        ("map.serial", "serial"),
        ("set.maker", "Hollin"),
        ("set.model", "Pilot"),
        ("act", "look"),
    ];
    let looked = site.post("/import", &fields).await;
    looked
        .shows("2 would come in")
        .shows("name=\"set.maker\" value=\"Hollin\"");
    let gone = site
        .post("/import", &[("kind", "owners"), ("file", "x")])
        .await;
    gone.shows("the file is no longer at hand");
    let none = site.post("/import", &[("kind", "owners")]).await;
    none.shows("choose a file");
}
