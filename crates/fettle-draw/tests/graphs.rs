//! What holds for the drawings of graphs, and how small ones look.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a helper that cannot read a drawing has found the fault the test looks for"
)]

use fettle_draw::{Errand, PartState, RemovalGraph, RemovalPart, Sheet, removal_graph};
use proptest::prelude::*;

/// Parses a drawing of parts, checks that every coordinate lies on its sheet, and gives the titles of its parts.
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
}
