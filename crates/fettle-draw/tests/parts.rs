//! Parts' files, read back.

#![expect(
    clippy::panic,
    clippy::unwrap_used,
    reason = "a helper that cannot read a drawing has found the fault the test looks for"
)]

use std::collections::{HashMap, HashSet};

use fettle_draw::part::{Corner, dxf, sheet, step, svg};
use fettle_measure::gear::part::{Form, Hole, Options, Part, Slot};

fn parts() -> Vec<Part> {
    let mut gear = Options::new(Form::Gear, 0.5, 40, 2.0);
    (gear.bore_mm, gear.tip_relief_mm, gear.backlash_mm) = (Some(4.0), 0.01, 0.02);
    gear.holes = vec![Hole {
        diameter_mm: 2.5,
        x_mm: 6.0,
        y_mm: 1.0,
    }];
    let mut rack = Options::new(Form::Rack, 0.5, 20, 1.5);
    rack.height_mm = 4.0;
    rack.slots = vec![Slot {
        length_mm: 7.0,
        width_mm: 1.6,
        x_mm: 15.0,
        y_mm: -2.6,
    }];
    [gear, rack, Options::new(Form::Gear, 1.0, 12, 3.0)]
        .map(|options| options.part().unwrap())
        .to_vec()
}

fn assert_close(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!(
        (got - want).abs() <= tolerance,
        "{what}: {got}, wanted {want} ± {tolerance}"
    );
}

/// The drawing's polylines on a layer: corners with their bulges.
fn polylines(dxf: &str, layer: &str) -> Vec<Vec<[f64; 3]>> {
    let lines: Vec<&str> = dxf.lines().collect();
    let mut all = Vec::new();
    let mut inside = false;
    for pair in lines.chunks(2) {
        let [code, value] = pair else {
            panic!("a code without value")
        };
        match *code {
            "0" => {
                inside = *value == "LWPOLYLINE";
                if inside {
                    all.push((String::new(), Vec::new()));
                }
            }
            _ if !inside => {}
            "8" => all.last_mut().unwrap().0 = (*value).to_owned(),
            "70" => assert_eq!(*value, "1", "closed"),
            "10" => all
                .last_mut()
                .unwrap()
                .1
                .push([value.parse().unwrap(), 0.0, 0.0]),
            "20" => all.last_mut().unwrap().1.last_mut().unwrap()[1] = value.parse().unwrap(),
            "42" => all.last_mut().unwrap().1.last_mut().unwrap()[2] = value.parse().unwrap(),
            _ => {}
        }
    }
    all.into_iter()
        .filter(|(on, _)| on == layer)
        .map(|(_, corners)| corners)
        .collect()
}

/// What a polyline encloses, its arcs' segments included.
fn area(corners: &[[f64; 3]]) -> f64 {
    let next = corners.iter().cycle().skip(1);
    corners
        .iter()
        .zip(next)
        .map(|([x0, y0, bulge], [x1, y1, _])| {
            let chord = (x1 - x0).hypot(y1 - y0);
            let turn = 4.0 * bulge.atan();
            let segment = if *bulge == 0.0 {
                0.0
            } else {
                let radius = chord / 2.0 / (turn / 2.0).sin();
                radius * radius / 2.0 * (turn - turn.sin())
            };
            (x0 * y1 - x1 * y0) / 2.0 + segment
        })
        .sum()
}

#[test]
fn the_polyline_encloses_what_the_outline_does_and_is_in_millimetres() {
    for part in parts() {
        let text = dxf(&part);
        assert!(text.contains("9\n$INSUNITS\n70\n4\n"));
        let outlines = polylines(&text, "OUTLINE");
        assert_eq!(outlines.len(), 1);
        let want = part.outer.area_mm2(1e-5);
        assert_close(area(&outlines[0]), want, 1e-4 * want, "area");
        for slot in polylines(&text, "HOLES") {
            // 7 x 1.6 with round ends, clockwise.
            let want = -(5.4 * 1.6 + std::f64::consts::PI * 0.64);
            assert_close(area(&slot), want, 1e-5, "slot");
        }
    }
}

#[test]
fn no_handle_of_a_drawing_stands_for_two_things() {
    for part in parts() {
        let text = dxf(&part);
        let lines: Vec<&str> = text.lines().collect();
        let mut seen = HashSet::new();
        let mut seed = 0;
        for (n, pair) in lines.chunks(2).enumerate() {
            if pair[0] == "5" || pair[0] == "105" {
                let handle = u32::from_str_radix(pair[1], 16).unwrap();
                if lines[2 * n - 1] == "$HANDSEED" {
                    seed = handle;
                } else {
                    assert!(seen.insert(handle), "{handle:X}");
                }
            }
        }
        assert_eq!(seen.iter().max().map(|last| last + 1), Some(seed));
    }
}

/// Entities of a STEP file by number.
fn entities(step: &str) -> HashMap<u32, String> {
    step.lines()
        .filter_map(|line| line.strip_prefix('#')?.strip_suffix(';')?.split_once('='))
        .map(|(id, entity)| (id.parse().unwrap(), entity.to_owned()))
        .collect()
}

fn references(entity: &str) -> Vec<u32> {
    entity
        .split('#')
        .skip(1)
        .map(|rest| {
            let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
            digits.parse().unwrap()
        })
        .collect()
}

#[test]
fn every_edge_of_the_solid_is_used_once_each_way() {
    for part in parts() {
        let text = step(&part, "a part's name");
        let all = entities(&text);
        let mut uses: HashMap<u32, Vec<bool>> = HashMap::new();
        for entity in all.values() {
            for id in references(entity) {
                assert!(all.contains_key(&id), "{entity} names nothing");
            }
            if entity.starts_with("ORIENTED_EDGE") {
                let edge = references(entity)[0];
                uses.entry(edge).or_default().push(entity.contains(".T."));
            }
        }
        let count = |kind: &str| {
            all.values()
                .filter(|entity| entity.starts_with(kind))
                .count()
        };
        assert_eq!(uses.len(), count("EDGE_CURVE("));
        for (edge, ways) in uses {
            assert!(ways.len() == 2 && ways[0] != ways[1], "#{edge}: {ways:?}");
        }
        // Euler: with h openings through it a solid has V - E + F = 2 - 2 h + the ends' inner loops, which are 2 h.
        let euler = count("VERTEX_POINT(") as i64 - count("EDGE_CURVE(") as i64
            + count("ADVANCED_FACE(") as i64;
        assert_eq!(euler, 2);
        assert!(text.contains("PRODUCT('a part''s name'"));
    }
}

#[test]
fn a_gears_solid_stays_small_and_equal_input_gives_equal_files() {
    let part = Options::new(Form::Gear, 0.3, 120, 2.0).part().unwrap();
    let text = step(&part, "fine");
    assert!((100_000..1_000_000).contains(&text.len()), "{}", text.len());
    assert_eq!(text, step(&part, "fine"));
    assert_eq!(dxf(&part), dxf(&part));
    assert_eq!(svg(&part), svg(&part));
}

#[test]
fn the_drawing_is_as_large_on_paper_as_the_part() {
    for part in parts() {
        let text = svg(&part);
        let document = roxmltree::Document::parse(&text).unwrap();
        let root = document.root_element();
        let view: Vec<&str> = root.attribute("viewBox").unwrap().split(' ').collect();
        assert_eq!(root.attribute("width").unwrap(), format!("{}mm", view[2]));
        assert_eq!(root.attribute("height").unwrap(), format!("{}mm", view[3]));
        let polygon = part.outer.polygon(1e-4);
        let (least, most) = polygon
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), p| {
                (a.min(p[0]), b.max(p[0]))
            });
        let wide: f64 = view[2].parse().unwrap();
        // A millimetre is left at either side.
        assert_close(wide - 2.0, most - least, 0.002, "width");
        let paths = root.children().filter(|node| node.has_tag_name("path"));
        let data: Vec<&str> = paths.map(|path| path.attribute("d").unwrap()).collect();
        assert_eq!(data.len(), 1 + part.inner.len());
        assert!(data.iter().all(|d| d.starts_with('M') && d.ends_with('Z')));
    }
}

#[test]
fn the_sheet_says_what_the_part_is_measured_by_whatever_its_corner_holds() {
    for part in parts() {
        let corner = Corner {
            title: "<wheel & rack>".to_owned(),
            material: "brass".repeat(40),
            ..Corner::default()
        };
        let text = sheet(&part, &corner, None);
        let document = roxmltree::Document::parse(&text).unwrap();
        let words: String = document
            .descendants()
            .filter_map(|node| node.text())
            .collect();
        let check = match part.options.form {
            Form::Gear => "Measure the span before the part is fitted",
            Form::Rack => "Measure pitch and tooth thickness before the part is fitted",
        };
        assert!(
            words.contains(check) && words.contains("<wheel & rack>"),
            "{words}"
        );
        assert!(!text.contains("NaN") && !text.contains("inf"));
    }
}
