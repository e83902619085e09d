//! What holds for the drawings of graphs, and how small ones look.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a helper that cannot read a drawing has found the fault the test looks for"
)]

use fettle_draw::{
    CauseKind, CauseLink, CauseNetwork, CauseNode, Errand, PartState, PlanAct, PlanBranch,
    PlanStep, RemovalGraph, RemovalPart, Sheet, Tray, TrayCell, TrayPiece, cause_network,
    cause_overview, plan_tree, removal_graph, tray,
};
use proptest::prelude::*;

/// Left, top, right and bottom of a path of straight lines.
fn reach_of(path: &str) -> [f64; 4] {
    let figures: Vec<f64> = path
        .split(['M', 'L', 'Z', ' '])
        .filter(|p| !p.is_empty())
        .map(|p| p.parse().unwrap())
        .collect();
    let over = |skip: usize, pick: fn(f64, f64) -> f64| {
        figures
            .iter()
            .skip(skip)
            .step_by(2)
            .copied()
            .reduce(pick)
            .unwrap()
    };
    [
        over(0, f64::min),
        over(1, f64::min),
        over(0, f64::max),
        over(1, f64::max),
    ]
}

/// The outlines of the parts, which may touch and not overlap.
fn check_apart(root: &roxmltree::Node<'_, '_>) {
    let outlines: Vec<[f64; 4]> = root
        .descendants()
        .filter(|n| n.has_tag_name("g"))
        .filter_map(|g| {
            g.children()
                .find_map(|n| n.attribute("d").filter(|d| d.ends_with('Z')))
        })
        .map(reach_of)
        .collect();
    for (i, a) in outlines.iter().enumerate() {
        for b in outlines.iter().skip(i + 1) {
            let clear =
                |low: usize, high: usize| a[high] < b[low] + 0.02 || b[high] < a[low] + 0.02;
            assert!(clear(0, 2) || clear(1, 3), "{a:?} {b:?}");
        }
    }
}

/// Parses a drawing of parts, checks that every coordinate lies on its sheet and no outline upon another, and gives the titles of its parts.
fn check(svg: &str) -> Vec<String> {
    let document = roxmltree::Document::parse(svg).unwrap_or_else(|e| panic!("{e}\n{svg}"));
    let root = document.root_element();
    let size = |name: &str| -> f64 { root.attribute(name).unwrap().parse().unwrap() };
    let (width, height) = (size("width"), size("height"));
    assert_eq!(root.attribute("role"), Some("group"));
    assert!(root.attribute("aria-label").is_some());
    let on_sheet = |value: &str, reach: f64| {
        let value: f64 = value.parse().unwrap();
        assert!(
            (-0.5..=reach + 0.5).contains(&value),
            "{value} is not within 0..{reach}\n{svg}"
        );
    };
    for node in root.descendants().filter(roxmltree::Node::is_element) {
        for (name, reach) in [("x", width), ("cx", width), ("y", height), ("cy", height)] {
            if let Some(value) = node.attribute(name) {
                on_sheet(value, reach);
            }
        }
        if let Some(size) = node.attribute("font-size") {
            assert!(size.parse::<f64>().unwrap() >= 11.0, "{svg}");
        }
        let path = node.attribute("d").unwrap_or_default();
        let figures: Vec<&str> = path
            .split(['M', 'L', 'C', 'Z', ' '])
            .filter(|p| !p.is_empty())
            .collect();
        for pair in figures.chunks(2) {
            on_sheet(pair[0], width);
            on_sheet(pair[1], height);
        }
    }
    check_apart(&root);
    root.descendants()
        .filter(|n| n.has_tag_name("title") && n.parent() != Some(root))
        .map(|n| n.text().unwrap_or_default().to_owned())
        .collect()
}

fn part(
    name: &str,
    minutes: f64,
    state: PartState,
    errand: Errand,
    after: &[usize],
) -> RemovalPart {
    RemovalPart {
        name: name.to_owned(),
        minutes: Some(minutes),
        state,
        errand,
        after: after.to_vec(),
        ..RemovalPart::default()
    }
}

fn small_strip() -> RemovalGraph {
    let mut mirror = part("finder mirror", 4.0, PartState::Held, Errand::Wanted, &[]);
    mirror.either = vec![vec![2], vec![3, 4]];
    mirror.link = Some("/models/x#mirror".to_owned());
    RemovalGraph {
        title: "Order of removal".to_owned(),
        parts: vec![
            part("hood", 3.0, PartState::Off, Errand::OnTheWay, &[]),
            part(
                "spring of the hood",
                6.5,
                PartState::Free,
                Errand::None,
                &[0],
            ),
            part(
                "ground-glass screen",
                2.0,
                PartState::Free,
                Errand::OnTheWay,
                &[0],
            ),
            part("front plate", 5.0, PartState::Free, Errand::None, &[]),
            part("lens board", 4.0, PartState::Held, Errand::None, &[3]),
            mirror,
        ],
    }
}

#[test]
fn parts_tell_their_state_in_words_and_what_comes_off_before_them() {
    let svg = removal_graph(&small_strip(), Sheet::Inherit);
    let told = check(&svg);
    assert_eq!(told.len(), 6);
    for words in [
        "hood, 3 min, off",
        "spring of the hood, 6.5 min, free; after hood",
        "ground-glass screen, 2 min, free, on the way; after hood",
        "finder mirror, 4 min, wanted; after ground-glass screen, or front plate and lens board",
    ] {
        assert!(told.iter().any(|t| t == words), "{words}: {told:?}");
    }
    assert!(svg.contains("<a href=\"/models/x#mirror\">"));
    assert!(svg.contains(">or</text>") && svg.contains(">and</text>"));
    insta::assert_snapshot!(svg);
}

#[test]
fn a_graph_of_sixty_parts_keeps_to_the_width_of_a_tablets_page() {
    let parts = (0..60_usize)
        .map(|n| {
            let after: Vec<usize> = [n / 3, n.saturating_sub(7)]
                .into_iter()
                .filter(|&a| a < n)
                .collect();
            part(
                "lever of the second curtain",
                2.0,
                PartState::Held,
                Errand::None,
                &after,
            )
        })
        .collect();
    let svg = removal_graph(
        &RemovalGraph {
            title: String::new(),
            parts,
        },
        Sheet::Light,
    );
    assert_eq!(check(&svg).len(), 60);
    let document = roxmltree::Document::parse(&svg).unwrap();
    let width: f64 = document
        .root_element()
        .attribute("width")
        .unwrap()
        .parse()
        .unwrap();
    assert!((700.0..=752.0).contains(&width), "{width}");
}

#[test]
fn parts_keep_their_places_in_the_rows_as_others_come_off() {
    let places = |graph: &RemovalGraph| -> Vec<(String, String)> {
        let svg = removal_graph(graph, Sheet::Light);
        let document = roxmltree::Document::parse(&svg).unwrap();
        let parts = document.descendants().filter(|n| n.has_tag_name("g"));
        parts
            .map(|part| {
                let name = part.descendants().find(|n| n.has_tag_name("text")).unwrap();
                let words = name.text().unwrap_or_default().to_owned();
                (words, name.attribute("x").unwrap().to_owned())
            })
            .collect()
    };
    let before = small_strip();
    let mut after = before.clone();
    for part in &mut after.parts {
        part.state = match part.state {
            PartState::Held => PartState::Free,
            PartState::Free | PartState::Off => PartState::Off,
        };
        part.errand = Errand::OnTheWay;
    }
    assert_eq!(places(&before), places(&after));
}

#[test]
fn only_links_within_the_house_are_drawn() {
    for link in [
        "javascript:alert(1)",
        "https://example.org",
        "//example.org",
        "",
    ] {
        let mut graph = small_strip();
        graph.parts[5].link = Some(link.to_owned());
        assert!(
            !removal_graph(&graph, Sheet::Inherit).contains("<a "),
            "{link}"
        );
    }
}

/// A plan of looks whose answers are yes and no, some answers deep.
fn plan(deep: usize, coming_here: f64) -> PlanStep {
    let (act, words) = match deep {
        0 => (PlanAct::Stop, "nothing more pays"),
        1 => (
            PlanAct::Work,
            "clean and lubricate the shutter's ring and gear train",
        ),
        _ => (
            PlanAct::Look,
            "Does the speed dial stick at the mark 1/30 when it is turned back?",
        ),
    };
    let answers = match act {
        PlanAct::Look => vec![("yes", 0.36), ("no", 0.64)],
        PlanAct::Work => vec![("found", 0.93), ("not found", 0.07)],
        PlanAct::Stop => Vec::new(),
    };
    PlanStep {
        act,
        words: words.to_owned(),
        probability: coming_here,
        expected_minutes: 7.25 * deep as f64,
        branches: answers
            .into_iter()
            .map(|(answer, chance)| PlanBranch {
                answer: answer.to_owned(),
                probability: chance,
                step: plan(deep - 1, coming_here * chance),
            })
            .collect(),
    }
}

#[test]
fn a_plan_tells_each_answer_with_its_chance_and_what_follows() {
    let svg = plan_tree("Plan", &plan(2, 1.0), Sheet::Inherit);
    let told = check(&svg);
    assert_eq!(told.len(), 7);
    assert_eq!(
        told[1],
        "yes, 36 %: clean and lubricate the shutter's ring and gear train: work, 7.2 min, 36 %"
    );
    assert!(svg.contains(">not found</text>") && svg.contains(">93 %</text>"));
    insta::assert_snapshot!(svg);
}

#[test]
fn a_plan_deeper_than_the_sheet_says_that_it_goes_on() {
    assert!(!plan_tree("Plan", &plan(7, 1.0), Sheet::Inherit).contains("and so on"));
    let svg = plan_tree("Plan", &plan(9, 1.0), Sheet::Inherit);
    check(&svg);
    assert!(svg.contains("and so on"));
}

fn small_tray() -> Tray {
    let cell = |label: &str, pieces: &[(&str, bool)]| TrayCell {
        label: label.to_owned(),
        pieces: pieces
            .iter()
            .map(|&(words, in_hand)| TrayPiece {
                words: words.to_owned(),
                in_hand,
            })
            .collect(),
        link: None,
    };
    Tray {
        title: "Tray".to_owned(),
        columns: 3,
        cells: vec![
            cell("1", &[("hood", false), ("4 screws, M1.7 × 3.5", false)]),
            cell("2", &[("ground-glass screen", true)]),
            cell("3", &[]),
            cell("4", &[("leather of the front", false)]),
        ],
    }
}

#[test]
fn a_tray_shows_what_lies_where_what_is_empty_and_what_is_in_hand() {
    let svg = tray(&small_tray(), Sheet::Inherit);
    assert_eq!(
        check(&svg),
        [
            "cell 1: hood; 4 screws, M1.7 × 3.5",
            "cell 2: ground-glass screen, in hand",
            "cell 3: empty",
            "cell 4: leather of the front",
        ]
    );
    insta::assert_snapshot!(svg);
}

fn small_network() -> CauseNetwork {
    let node = |kind, name: &str, known, chance, by_itself| CauseNode {
        kind,
        name: name.to_owned(),
        known,
        chance,
        by_itself: Some(by_itself),
        link: None,
    };
    let link = |from, to, chance| CauseLink { from, to, chance };
    CauseNetwork {
        title: "Causes".to_owned(),
        nodes: vec![
            node(
                CauseKind::Circumstance,
                "unused for years",
                Some(true),
                None,
                0.5,
            ),
            node(CauseKind::Circumstance, "kept damp", None, Some(0.22), 0.2),
            node(CauseKind::Fault, "hardened grease", None, Some(0.61), 0.03),
            node(CauseKind::Fault, "pallet worn", Some(false), None, 0.008),
            node(
                CauseKind::Sign,
                "Do slow speeds hang?",
                Some(true),
                None,
                0.02,
            ),
            node(
                CauseKind::Sign,
                "Is the grease brown?",
                None,
                Some(0.44),
                0.01,
            ),
        ],
        links: vec![
            link(0, 2, 0.45),
            link(1, 2, 0.1),
            link(2, 3, 0.03),
            link(2, 4, 0.85),
            link(3, 4, 0.5),
            link(2, 5, 0.95),
            link(2, 9, 0.5),
        ],
    }
}

#[test]
fn a_fault_in_focus_shows_what_brings_it_on_and_what_it_leads_to() {
    let svg = cause_network(&small_network(), 2, Sheet::Inherit);
    let told = check(&svg);
    for words in [
        "fault: hardened grease, 61 %, by itself 3 %; from unused for years 45 %, kept damp 10 %; leads to \
         pallet worn 3 %, Do slow speeds hang? 85 %, Is the grease brown? 95 %",
        "sign: Do slow speeds hang? seen, by itself 2 %; from hardened grease 85 %",
        "circumstance: unused for years, yes, beforehand 50 %; leads to hardened grease 45 %",
    ] {
        assert!(told.iter().any(|t| t == words), "{words}: {told:#?}");
    }
    assert!(svg.contains(">85 %</text>") && svg.contains(">pallet worn, ruled out</text>"));
    // The other cause of a sign is not this fault's matter.
    assert!(!svg.contains(">50 %</text>"));
    insta::assert_snapshot!(svg);
}

#[test]
fn a_sign_in_focus_shows_causes_of_its_causes() {
    let told = check(&cause_network(&small_network(), 4, Sheet::Inherit));
    assert_eq!(told.len(), 5, "{told:?}");
    assert!(!told.iter().any(|t| t.contains("brown")));
}

#[test]
fn a_focus_outside_the_network_is_said_to_be_none() {
    let svg = cause_network(&small_network(), 6, Sheet::Inherit);
    assert!(check(&svg).is_empty() && svg.contains("not in the network"));
}

#[test]
fn the_likelier_a_link_the_bolder_its_line() {
    let widths = |chance: f64| -> f64 {
        let mut network = small_network();
        network.links = vec![CauseLink {
            from: 2,
            to: 5,
            chance,
        }];
        let svg = cause_network(&network, 2, Sheet::Light);
        let document = roxmltree::Document::parse(&svg).unwrap();
        let line = document
            .descendants()
            .find(|n| n.attribute("d").is_some() && n.parent() == Some(document.root_element()))
            .unwrap();
        line.attribute("stroke-width").unwrap().parse().unwrap()
    };
    assert!(widths(0.1) < widths(0.5) && widths(0.5) < widths(0.95));
}

#[test]
fn the_overview_lists_everything_once() {
    let svg = cause_overview(&small_network(), Sheet::Inherit);
    let told = check(&svg);
    assert_eq!(told.len(), 6);
    for heading in ["circumstances", "faults", "signs"] {
        assert!(svg.contains(&format!(">{heading}</text>")));
    }
    insta::assert_snapshot!(svg);
}

fn any_network() -> impl Strategy<Value = CauseNetwork> {
    let kind = prop_oneof![
        Just(CauseKind::Circumstance),
        Just(CauseKind::Fault),
        Just(CauseKind::Sign)
    ];
    let node = (
        kind,
        ".{0,70}",
        proptest::option::of(any::<bool>()),
        proptest::option::of(any_number()),
        proptest::option::of(any_number()),
    )
        .prop_map(|(kind, name, known, chance, by_itself)| CauseNode {
            kind,
            name,
            known,
            chance,
            by_itself,
            link: None,
        });
    let link = (0..22_usize, 0..22_usize, any_number()).prop_map(|(from, to, chance)| CauseLink {
        from,
        to,
        chance,
    });
    (
        proptest::collection::vec(node, 0..20),
        proptest::collection::vec(link, 0..40),
    )
        .prop_map(|(nodes, links)| CauseNetwork {
            title: String::new(),
            nodes,
            links,
        })
}

fn any_plan() -> impl Strategy<Value = PlanStep> {
    let act = || {
        prop_oneof![
            Just(PlanAct::Look),
            Just(PlanAct::Work),
            Just(PlanAct::Stop)
        ]
    };
    let step = move |branches: Vec<PlanBranch>| {
        (act(), ".{0,90}", any_number(), any_number()).prop_map(
            move |(act, words, probability, expected_minutes)| PlanStep {
                act,
                words,
                probability,
                expected_minutes,
                branches: branches.clone(),
            },
        )
    };
    step(Vec::new()).prop_recursive(9, 40, 3, move |inner| {
        let branch =
            (".{0,20}", any_number(), inner).prop_map(|(answer, probability, step)| PlanBranch {
                answer,
                probability,
                step,
            });
        proptest::collection::vec(branch, 0..3).prop_flat_map(step)
    })
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -10.0..100.0_f64,
        1 => any::<f64>(),
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
    ]
}

fn any_state() -> impl Strategy<Value = (PartState, Errand)> {
    (
        prop_oneof![
            Just(PartState::Held),
            Just(PartState::Free),
            Just(PartState::Off)
        ],
        prop_oneof![
            Just(Errand::None),
            Just(Errand::OnTheWay),
            Just(Errand::Wanted)
        ],
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_order_of_removal_is_drawn_on_its_sheet(
        title in ".{0,12}",
        parts in proptest::collection::vec(
            (
                ".{0,60}",
                proptest::option::of(any_number()),
                any_state(),
                proptest::collection::vec(0..20_usize, 0..3),
                proptest::collection::vec(proptest::collection::vec(0..20_usize, 0..3), 0..3),
            ),
            0..16,
        ),
    ) {
        let parts = parts
            .into_iter()
            .map(|(name, minutes, (state, errand), after, either)| RemovalPart {
                link: Some(format!("/{name}")), name, minutes, state, errand, after, either,
            })
            .collect::<Vec<_>>();
        let many = parts.len();
        let svg = removal_graph(&RemovalGraph { title, parts }, Sheet::Light);
        prop_assert_eq!(check(&svg).len(), many);
    }

    #[test]
    fn any_plan_is_drawn_on_its_sheet(plan in any_plan(), title in ".{0,12}") {
        let svg = plan_tree(&title, &plan, Sheet::Light);
        prop_assert!(!check(&svg).is_empty());
        prop_assert_eq!(svg, plan_tree(&title, &plan, Sheet::Light));
    }

    #[test]
    fn any_tray_is_drawn_on_its_sheet(
        columns in 0..14_usize,
        cells in proptest::collection::vec(
            (".{0,8}", proptest::collection::vec((".{0,50}", any::<bool>()), 0..4)), 0..20),
    ) {
        let cells: Vec<TrayCell> = cells
            .into_iter()
            .map(|(label, pieces)| TrayCell {
                label,
                pieces: pieces.into_iter().map(|(words, in_hand)| TrayPiece { words, in_hand }).collect(),
                link: None,
            })
            .collect();
        let many = cells.len();
        let svg = tray(&Tray { title: String::new(), columns, cells }, Sheet::Light);
        prop_assert_eq!(check(&svg).len(), many);
    }

    #[test]
    fn any_network_is_drawn_on_its_sheet(network in any_network(), focus in 0..21_usize) {
        let svg = cause_network(&network, focus, Sheet::Light);
        let told = check(&svg);
        prop_assert_eq!(told.is_empty(), focus >= network.nodes.len());
        prop_assert_eq!(svg, cause_network(&network, focus, Sheet::Light));
        let overview = cause_overview(&network, Sheet::Inherit);
        prop_assert_eq!(check(&overview).len(), network.nodes.len());
    }
}
