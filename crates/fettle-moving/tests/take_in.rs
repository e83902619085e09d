//! Foreign tables and contacts into a bench.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod support;

use fettle_bench::{Grade, LineFor, Page, PartFilter, Stage, VisitFilter, VisitId};
use fettle_moving::{DateOrder, Habits, Kind, NotBrought, Terms, bring, rehearse};
use support::{hand, now, shop, today, told};

const OWNERS: &str = "Kundennummer;Vorname;Nachname;E-Mail;Telefon;Straße;PLZ;Ort;Bemerkung\n\
    1;Marit;Halvarsen;marit@example.org;+00 1 23;Kai 3;1234;Saltmere;\"zahlt\nbar\"\n\
    2;Jörg;Weiß;;;;;;\n";

const CAMERAS: &str = "Maker,Model,Serial number,Lens No\n\
    Aldous,Corran 66,K 10482,L 77\n\
    ,Sprat,S-9,\n";

#[test]
fn owners_come_from_a_table_with_german_headings() {
    let shop = shop();
    let plan = shop.take(Kind::Owners, OWNERS);
    assert_eq!((plan.rows, plan.new_rows()), (2, 2));
    let owners = shop.bench.owners(Page::first(10)).unwrap().lines;
    let marit = &owners[1].owner.details;
    assert_eq!(marit.name, "Marit Halvarsen");
    assert_eq!(marit.address, "Kai 3\n1234 Saltmere");
    assert_eq!(
        (marit.email.as_str(), marit.note.as_str()),
        ("marit@example.org", "zahlt\nbar")
    );
    assert_eq!(owners[0].owner.details.name, "Jörg Weiß");
}

#[test]
fn what_is_taken_in_twice_is_not_doubled() {
    let shop = shop();
    let tables = [
        (Kind::Owners, OWNERS),
        (Kind::Cameras, CAMERAS),
        (Kind::Cameras, "model\nSprat\nSprat\n"),
        (
            Kind::Visits,
            "owner,serial,arrived,home\nMarit Halvarsen,K 10482,2024-03-05,2024-04-01\nJörg Weiß,S-9,2026-11-01,\n",
        ),
        (
            Kind::Parts,
            "part,quantity,grade,drawer\nfoam,3,made,A1\nfoam,3,made,A1\nfoam,2,made,B\n",
        ),
    ];
    for (kind, text) in tables {
        let first = shop.take(kind, text);
        assert!(first.same.is_empty(), "{kind}: {:?}", first.same);
        let entries = shop.bench.journal(Page::first(1)).unwrap().total;
        let again = shop.take(kind, text);
        assert_eq!(
            (again.same.len(), again.new_rows()),
            (again.rows, 0),
            "{kind}"
        );
        assert_eq!(
            shop.bench.journal(Page::first(1)).unwrap().total,
            entries,
            "{kind}"
        );
    }
}

#[test]
fn an_owner_of_the_same_name_with_another_address_is_another_owner() {
    let shop = shop();
    shop.take(
        Kind::Owners,
        "name,email,phone\nAna Berg,ana@example.org,1\n",
    );
    let plan = shop.plan(
        Kind::Owners,
        "name,email,phone\nAna Berg,other@example.org,2\nANA BERG,,\nAna Berg,ana@example.org,3\n",
    );
    assert_eq!(plan.new_rows(), 1);
    let same: Vec<_> = plan
        .same
        .iter()
        .map(|it| (it.row, it.known_as.as_str(), it.differs.join(" ")))
        .collect();
    assert_eq!(
        same,
        [
            (3, "owner 1", String::new()),
            (4, "owner 1", "phone".to_owned())
        ]
    );
}

#[test]
fn rows_of_one_owner_complete_each_other() {
    let shop = shop();
    shop.take(
        Kind::Owners,
        "name,email,phone\nAna Berg,ana@example.org,\nAna Berg,,12 34\n",
    );
    let owners = shop.bench.owners(Page::first(10)).unwrap().lines;
    assert_eq!(owners.len(), 1);
    assert_eq!(owners[0].owner.details.phone, "12 34");
}

#[test]
fn contacts_are_owners() {
    let shop = shop();
    shop.take(
        Kind::Owners,
        "BEGIN:VCARD\r\nVERSION:4.0\r\nFN:Ana Berg\r\nEMAIL:ana@example.org\r\nEND:VCARD\r\n",
    );
    assert_eq!(
        shop.bench.owners(Page::first(1)).unwrap().lines[0]
            .owner
            .details
            .email,
        "ana@example.org"
    );
}

#[test]
fn cameras_get_the_service_notes_of_their_model() {
    let shop = shop();
    shop.take(Kind::Cameras, CAMERAS);
    let cameras = shop.bench.cameras(Page::first(10)).unwrap().lines;
    let of = |serial: &str| {
        let camera = cameras
            .iter()
            .find(|it| it.camera.details.serial() == serial)
            .unwrap();
        camera.camera.details.clone()
    };
    assert_eq!(of("K 10482").notes_id.as_deref(), Some("corran-66"));
    assert_eq!(of("S-9").notes_id.as_deref(), Some("sprat"));
    assert_eq!(of("K 10482").serials[1].number, "L 77");
}

#[test]
fn a_serial_number_that_stands_twice_is_told_by_row_and_column() {
    let shop = shop();
    shop.take(Kind::Cameras, CAMERAS);
    let text = "Maker,Model,Serial number,Note\n\
        Hollin,Meridian,k10482,\n\
        Hollin,Meridian,M 1,\n\
        Hollin,Meridian,M-1,dented\n\
        Hollin,Meridian,M 2,\n\
        Hollin,Meridian,M 2,\n\
        Aldous,Corran 66,K 10482,\n";
    assert_eq!(
        shop.wrong(Kind::Cameras, text),
        "row 2, column Serial number: “k10482” is that of camera 1, Aldous Corran 66; correct it, or let cameras of \
         different models have the same number with --same-serials\n\
         row 4, column Serial number: “M-1” stands in row 3 too, which is otherwise not the same; make the rows equal, \
         or correct one number"
    );
    let plan = shop.plan(Kind::Cameras, text);
    let same: Vec<_> = plan
        .same
        .iter()
        .map(|it| (it.row, it.known_as.as_str()))
        .collect();
    assert_eq!(same, [(6, "row 5"), (7, "camera 1")]);
    let terms = Terms {
        same_serials: true,
        ..Terms::strict(today())
    };
    let plan = shop.plan_with(Kind::Cameras, text, |_| (), terms);
    assert_eq!(plan.problems.len(), 1);
}

#[test]
fn a_past_visit_is_told_as_it_would_have_been_entered() {
    let shop = shop();
    shop.take(Kind::Owners, OWNERS);
    shop.take(Kind::Cameras, CAMERAS);
    let text = "Kunde;Seriennummer;Eingang;Ausgang;Beanstandung;Befund;Arbeiten;Arbeitszeit;Preis;Bemerkung\n\
        Jörg Weiß;S-9;1.2.2025;3.3.2025;geht nicht;;Reinigung;;;\n\
        Marit Halvarsen;K10482;5.3.2024;1.4.2024;hängt;hardened-grease; shutter cleaned;90;120,50 €;gern wieder\n";
    shop.take(Kind::Visits, text);
    // The earlier arrival has the lower number.
    let visit = shop.bench.visit(VisitId::new(1)).unwrap();
    assert_eq!(visit.line.stage, Stage::Home);
    assert_eq!(visit.line.arrived.to_string(), "2024-03-05");
    assert_eq!(visit.arrival.words, "hängt");
    assert_eq!(visit.works[0].what.minutes, Some(90.0));
    let quote = &visit.quotes[0];
    assert_eq!(quote.what.total.to_string(), "EUR 120.50");
    assert_eq!(quote.what.lines[0].line_for, LineFor::Work);
    let told: Vec<String> = visit
        .journal
        .iter()
        .map(|entry| entry.sentence.clone())
        .collect();
    assert!(
        told.iter().any(|it| it.contains("taken in from a table")),
        "{told:?}"
    );
    assert!(told.iter().any(|it| it.contains("gern wieder")), "{told:?}");
    assert_eq!(
        shop.bench.visit(VisitId::new(2)).unwrap().line.serial,
        "S-9"
    );
    assert!(shop.bench.today(today()).unwrap().apart.is_empty());
}

#[test]
fn a_visit_s_problems_are_all_told() {
    let shop = shop();
    shop.take(Kind::Owners, OWNERS);
    shop.take(Kind::Cameras, CAMERAS);
    let text = "owner,serial,arrived,home,price,minutes,work\n\
        Marit Halversen,K 10482,2024-03-05,2024-04-01,,,\n\
        Marit Halvarsen,X 1,2024-03-05,2024-04-01,,,\n\
        Marit Halvarsen,K 10482,03/04/2024,2024-06-01,free,long,\n\
        Marit Halvarsen,K 10482,2024-03-05,2024-03-04,,,\n\
        ,K 10482,,2027-01-01,,1;2,a;b;c\n";
    let told = shop.wrong(Kind::Visits, text);
    let wanted = [
        "row 2, column owner: “Marit Halversen” is no owner of this bench; take in the owners first, or correct it: Marit Halvarsen is known",
        "row 3, column serial: “X 1” is no camera of this bench; take in the cameras first, or correct it",
        "row 4, column arrived: “03/04/2024” can be 2024-04-03 and 2024-03-04; say how days are written with --dates dmy or --dates mdy",
        "row 4, column minutes: “long” is not a time; write minutes such as 90, or hours such as 1:30",
        "row 4, column price: “free” is not an amount; write a number such as 12.50",
        "row 5, column home: “2024-03-04” is 2024-03-04, before it arrived on 2024-03-05; correct one of the two days",
        "row 6, column owner: the owner is missing; write it, or take the row out",
        "row 6, column arrived: the day of arrival is missing; write it, or take the row out",
        "row 6, column home: “2027-01-01” lies after today; correct it",
        "row 6, column minutes: “1;2” has 2 times for 3 works; give one time for each work, or one for all of them together",
    ];
    assert_eq!(told.lines().collect::<Vec<_>>(), wanted);
    let entries = shop.bench.journal(Page::first(1)).unwrap().total;
    let refused = bring(
        &shop.bench,
        &hand(),
        now(),
        &shop.plan(Kind::Visits, text),
        &mut |_| (),
    );
    assert!(
        matches!(refused, Err(NotBrought::Problems(problems)) if problems.len() == wanted.len())
    );
    assert_eq!(shop.bench.journal(Page::first(1)).unwrap().total, entries);
}

#[test]
fn the_order_of_day_and_month_can_be_told() {
    let shop = shop();
    shop.take(Kind::Owners, OWNERS);
    shop.take(Kind::Cameras, CAMERAS);
    let text = "owner,serial,arrived,home\nMarit Halvarsen,K 10482,03/04/2024,05/06/2024\n";
    let habits = Habits {
        dates: Some(DateOrder::Mdy),
        decimal: None,
    };
    let plan = shop.plan_with(
        Kind::Visits,
        text,
        |_| (),
        Terms {
            habits,
            ..Terms::strict(today())
        },
    );
    assert_eq!(told(&plan), "");
    bring(&shop.bench, &hand(), now(), &plan, &mut |_| ()).unwrap();
    let line = shop.bench.visit(VisitId::new(1)).unwrap().line;
    assert_eq!(line.arrived.to_string(), "2024-03-04");
}

#[test]
fn a_camera_is_here_but_once() {
    let shop = shop();
    shop.take(Kind::Owners, OWNERS);
    shop.take(Kind::Cameras, CAMERAS);
    let text = "owner,serial,arrived,home\n\
        Marit Halvarsen,K 10482,2026-10-01,\n\
        Marit Halvarsen,K 10482,2024-10-01,2024-11-01\n";
    let plan = shop.take(Kind::Visits, text);
    assert!(
        plan.remarks[0].starts_with("1 of the visits have no day home"),
        "{:?}",
        plan.remarks
    );
    let here = shop
        .bench
        .visits(
            &VisitFilter {
                here: true,
                ..VisitFilter::default()
            },
            Page::first(5),
        )
        .unwrap();
    assert_eq!(here.lines.len(), 1);
    assert_eq!(here.lines[0].visit, VisitId::new(2));
    let told = shop.wrong(
        Kind::Visits,
        "owner,serial,arrived,home\nMarit Halvarsen,K 10482,2023-10-01,2023-10-09\n",
    );
    assert!(
        told.contains("“K 10482” is here already: visit 2"),
        "{told}"
    );
    let twice =
        "owner,serial,arrived\nMarit Halvarsen,S-9,2026-10-01\nMarit Halvarsen,S-9,2026-10-02\n";
    let told = shop.wrong(Kind::Visits, twice);
    assert!(
        told.starts_with("row 3, column serial: “S-9” is here already: row 2"),
        "{told}"
    );
}

#[test]
fn a_camera_that_went_back_unrepaired_is_told_so() {
    let shop = shop();
    shop.take(Kind::Owners, OWNERS);
    shop.take(Kind::Cameras, CAMERAS);
    shop.take(
        Kind::Visits,
        "owner,serial,arrived,home,unrepaired\nMarit Halvarsen,K 10482,2024-03-05,2024-04-01,yes\n",
    );
    let line = shop.bench.visit(VisitId::new(1)).unwrap().line;
    assert_eq!((line.stage, line.unrepaired), (Stage::Home, true));
}

#[test]
fn parts_come_into_drawers_which_are_named_where_they_are_not_there() {
    let shop = shop();
    let text = "Teil;Hersteller;Modell;Qualität;Stück;Stückpreis;Lieferant;Fach;Mindestbestand\n\
        Lichtdichtung;;;Nachbau;12;1,50;Nachlass;A1;4\n\
        Feder;Aldous;Corran 66;gebraucht;3;;;a1;\n\
        Feder;Aldous;Corran 66;original;1;;;B 2;\n";
    let plan = shop.take(Kind::Parts, text);
    assert_eq!(plan.new_rows(), 3);
    let drawers = shop.bench.drawers().unwrap();
    let names: Vec<_> = drawers
        .iter()
        .map(|drawer| (drawer.name.as_str(), drawer.pieces))
        .collect();
    assert_eq!(names, [("A1", 15), ("B 2", 1)]);
    let parts = shop
        .bench
        .parts(&PartFilter::default(), Page::first(10), now())
        .unwrap()
        .lines;
    assert_eq!(parts.len(), 2);
    let spring = parts
        .iter()
        .find(|part| part.of.part.words == "Feder")
        .unwrap();
    assert_eq!(spring.of.notes_id.as_deref(), Some("corran-66"));
    assert_eq!(spring.of.model, "Aldous Corran 66");
    assert_eq!(spring.by_grade.get(&Grade::Salvaged), Some(&3));
    let seal = parts
        .iter()
        .find(|part| part.of.part.words == "Lichtdichtung")
        .unwrap();
    assert_eq!(seal.minimum, Some(4));
}

#[test]
fn what_is_wrong_with_parts_is_told() {
    let shop = shop();
    let text =
        "part,grade,quantity,price,drawer\n,new,0,-1,\nfoam,made,1.5,x,A\nfoam,made,2,1.234,A\n";
    assert_eq!(
        shop.wrong(Kind::Parts, text),
        "row 2, column drawer: the drawer is missing; write it, or take the row out\n\
         row 2, column part: the part is missing; write it, or take the row out\n\
         row 2, column grade: “new” is no grade; write original, reproduction, salvaged or made\n\
         row 2, column quantity: “0” is none; take the row out: a lot has pieces\n\
         row 2, column price: “-1” is below zero; write 0 or more\n\
         row 3, column quantity: “1.5” is not a whole number; write whole pieces\n\
         row 3, column price: “x” is not an amount; write a number such as 12.50\n\
         row 4, column price: “1.234” can be 1234 and 1.234; say which sign stands before decimals (on the command line --decimal comma or --decimal point)"
    );
}

#[test]
fn a_field_that_is_needed_and_has_no_column_is_told_once() {
    let shop = shop();
    let told_ = shop.wrong(Kind::Parts, "part,quantity,drawer\nfoam,3,A\n");
    assert!(
        told_.starts_with("no column holds grade (original, reproduction, salvaged or made); "),
        "{told_}"
    );
    assert!(told_.contains("--set grade=VALUE"), "{told_}");
    let set = |map: &mut fettle_moving::Map| map.set_value("grade", "made").unwrap();
    let plan = shop.plan_with(
        Kind::Parts,
        "part,quantity,drawer\nfoam,3,A\n",
        set,
        Terms::strict(today()),
    );
    assert_eq!((told(&plan).as_str(), plan.new_rows()), ("", 1));
}

#[test]
fn a_rehearsal_leaves_the_bench_as_it_was() {
    let shop = shop();
    let before = support::tables(shop.bench.dir());
    let plan = shop.plan(Kind::Owners, OWNERS);
    assert_eq!(
        rehearse(&shop.bench, &hand(), now(), &plan, &mut |_| ()).unwrap(),
        2
    );
    assert_eq!(support::tables(shop.bench.dir()), before);
    let mut steps = Vec::new();
    bring(&shop.bench, &hand(), now(), &plan, &mut |done| {
        steps.push(done);
    })
    .unwrap();
    assert_eq!(steps, [1, 2]);
}

#[test]
fn what_the_record_refuses_is_told_with_its_row_and_nothing_stands() {
    let shop = shop();
    let mut plan = shop.plan(Kind::Owners, OWNERS);
    let fettle_bench::Change::OwnerAdded(second) = &mut plan.groups[1].changes[0] else {
        unreachable!("owners are added")
    };
    second.phone = "1\n2".to_owned();
    let before = support::tables(shop.bench.dir());
    let told = bring(&shop.bench, &hand(), now(), &plan, &mut |_| ())
        .unwrap_err()
        .to_string();
    assert!(told.starts_with("row 3 (line 4), column phone: "), "{told}");
    assert_eq!(support::tables(shop.bench.dir()), before);
}
