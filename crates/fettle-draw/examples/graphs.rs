//! Draws the graphs of service notes into pages, to be looked at: `graphs NOTES.toml FOLDER`.

use std::collections::HashMap;
use std::fs;
use std::path::Path;

use fettle_draw::{
    CauseKind, CauseLink, CauseNetwork, CauseNode, Errand, PartState, PlanAct, PlanBranch,
    PlanStep, RemovalGraph, RemovalPart, Sheet, Tray, TrayCell, TrayPiece, cause_network,
    cause_overview, plan_tree, removal_graph, tray,
};
use toml::{Table, Value};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let notes: Table = toml::from_str(&fs::read_to_string(
        arguments.next().ok_or("which notes?")?,
    )?)?;
    let folder = arguments.next().ok_or("which folder?")?;
    let page = |name: &str, svg: &str| {
        let page = format!(
            "<!doctype html><meta charset=\"utf-8\"><body style=\"background:#fffefb; margin:34px; \
             font-family:sans-serif\">\n{svg}"
        );
        fs::write(Path::new(&folder).join(name), page)
    };
    page(
        "removals.html",
        &removal_graph(&removals(&notes), Sheet::Inherit),
    )?;
    let network = causes(&notes);
    page("causes.html", &cause_overview(&network, Sheet::Inherit))?;
    let of = |kind: CauseKind| {
        let many = |n: usize| {
            network
                .links
                .iter()
                .filter(|l| l.to == n || l.from == n)
                .count()
        };
        let nodes = (0..network.nodes.len()).filter(|&n| network.nodes[n].kind == kind);
        nodes.max_by_key(|&n| many(n)).unwrap_or(0)
    };
    for kind in [CauseKind::Circumstance, CauseKind::Fault, CauseKind::Sign] {
        page(
            &format!("{kind:?}.html").to_lowercase(),
            &cause_network(&network, of(kind), Sheet::Inherit),
        )?;
    }
    let looks: Vec<&str> = table(&notes, "sign")
        .map(|(_, row)| words(row, "question"))
        .collect();
    let works: Vec<&str> = table(&notes, "work")
        .map(|(_, row)| words(row, "name"))
        .collect();
    page(
        "plan.html",
        &plan_tree("Plan", &plan(&looks, &works, 4, 1, 1.0), Sheet::Inherit),
    )?;
    page("tray.html", &tray(&laid_down(&notes), Sheet::Inherit))?;
    Ok(())
}

fn table<'a>(notes: &'a Table, name: &str) -> impl Iterator<Item = (&'a str, &'a Table)> {
    let rows = notes
        .get(name)
        .and_then(Value::as_table)
        .into_iter()
        .flatten();
    rows.filter_map(|(id, row)| Some((id.as_str(), row.as_table()?)))
}

fn words<'a>(row: &'a Table, key: &str) -> &'a str {
    row.get(key).and_then(Value::as_str).unwrap_or_default()
}

fn number(value: &Value) -> Option<f64> {
    value
        .as_float()
        .or_else(|| value.as_integer().map(|n| n as f64))
}

fn list<'a>(row: &'a Table, key: &str) -> impl Iterator<Item = &'a Value> {
    row.get(key).and_then(Value::as_array).into_iter().flatten()
}

/// The removals with the first fifth of them off, and the last part and what lies above it wanted.
fn removals(notes: &Table) -> RemovalGraph {
    let rows: Vec<(&str, &Table)> = table(notes, "removal").collect();
    let places: HashMap<&str, usize> = rows
        .iter()
        .enumerate()
        .map(|(n, (id, _))| (*id, n))
        .collect();
    let names: HashMap<&str, &str> = table(notes, "part")
        .map(|(id, row)| (id, words(row, "name")))
        .collect();
    let of = |value: &Value| value.as_str().and_then(|id| places.get(id).copied());
    let mut parts: Vec<RemovalPart> = rows
        .iter()
        .map(|(id, row)| RemovalPart {
            name: names.get(id).copied().unwrap_or(id).to_owned(),
            minutes: row.get("minutes").and_then(number),
            after: list(row, "after").filter_map(of).collect(),
            either: list(row, "either")
                .filter_map(Value::as_array)
                .map(|group| group.iter().filter_map(of).collect())
                .collect(),
            link: Some(format!("/models/x/parts/{id}")),
            ..RemovalPart::default()
        })
        .collect();
    for n in 0..parts.len() {
        let before = &parts[n].after;
        let all_off =
            before.iter().all(|&b| parts[b].state == PartState::Off) && parts[n].either.is_empty();
        parts[n].state = match all_off {
            true if n % 3 == 0 => PartState::Off,
            true => PartState::Free,
            false => PartState::Held,
        };
    }
    let mut way = vec![parts.len() * 3 / 4];
    parts[way[0]].errand = Errand::Wanted;
    while let Some(n) = way.pop() {
        for before in parts[n].after.clone() {
            if parts[before].state != PartState::Off {
                parts[before].errand = Errand::OnTheWay;
                way.push(before);
            }
        }
    }
    RemovalGraph {
        title: "Order of removal".to_owned(),
        parts,
    }
}

/// A plan of invented chances over the notes' looks and works.
fn plan(looks: &[&str], works: &[&str], deep: usize, n: usize, coming_here: f64) -> PlanStep {
    let (act, from, answers) = match (deep, n % 3) {
        (0, _) => (PlanAct::Stop, &[][..], ["", ""]),
        (_, 0) => (PlanAct::Work, works, ["found", "not found"]),
        _ => (PlanAct::Look, looks, ["yes", "no"]),
    };
    let words = from.get(n * 7 % from.len().max(1)).copied();
    let yes = 0.15 + 0.7 * (n * 37 % 100) as f64 / 100.0;
    let branches = answers
        .into_iter()
        .zip([yes, 1.0 - yes])
        .enumerate()
        .filter(|(i, _)| deep > 0 && (act == PlanAct::Look || *i == 1))
        .map(|(i, (answer, chance))| PlanBranch {
            answer: answer.to_owned(),
            probability: chance,
            step: plan(looks, works, deep - 1, 2 * n + i, coming_here * chance),
        })
        .collect();
    PlanStep {
        act,
        words: words.unwrap_or("nothing more pays").to_owned(),
        probability: coming_here,
        expected_minutes: 12.4 * deep as f64 + n as f64,
        branches,
    }
}

/// Every second removal in a cell of its own, with its fasteners.
fn laid_down(notes: &Table) -> Tray {
    let names: HashMap<&str, &str> = table(notes, "part")
        .map(|(id, row)| (id, words(row, "name")))
        .collect();
    let piece = |words: &str, in_hand| TrayPiece {
        words: words.to_owned(),
        in_hand,
    };
    let cells = table(notes, "removal")
        .take(21)
        .zip(1..)
        .map(|((id, row), n)| {
            let mut pieces = vec![piece(names.get(id).copied().unwrap_or(id), n == 5)];
            for fastener in list(row, "fasteners").filter_map(Value::as_table) {
                let count = fastener.get("count").and_then(Value::as_integer);
                let sort = format!(
                    "{} × {} {}",
                    count.unwrap_or(1),
                    words(fastener, "kind"),
                    words(fastener, "thread")
                );
                pieces.push(piece(&sort, false));
            }
            if n % 4 == 0 {
                pieces.clear();
            }
            TrayCell {
                label: n.to_string(),
                pieces,
                link: None,
            }
        })
        .collect();
    Tray {
        title: "Tray".to_owned(),
        columns: 6,
        cells,
    }
}

/// The network with invented chances as things stand, and a few findings.
fn causes(notes: &Table) -> CauseNetwork {
    let mut places = HashMap::new();
    let mut nodes = Vec::new();
    for (name, kind, key) in [
        ("circumstance", CauseKind::Circumstance, "chance"),
        ("fault", CauseKind::Fault, "leak"),
        ("sign", CauseKind::Sign, "leak"),
    ] {
        for (id, row) in table(notes, name) {
            let n = nodes.len();
            places.insert(id, n);
            let title = if kind == CauseKind::Sign {
                "question"
            } else {
                "name"
            };
            nodes.push(CauseNode {
                kind,
                name: words(row, title).to_owned(),
                known: [Some(true), Some(false)].get(n % 17).copied().flatten(),
                chance: (kind != CauseKind::Sign).then_some(0.01 * (n * 37 % 60) as f64),
                by_itself: row.get(key).and_then(number),
                link: Some(format!("?about={id}")),
            });
        }
    }
    let mut links = Vec::new();
    for (name, key) in [("fault", "brought_on_by"), ("sign", "links")] {
        for (id, row) in table(notes, name) {
            let to = places.get(id).copied();
            for (other, chance) in row.get(key).and_then(Value::as_table).into_iter().flatten() {
                if let (Some(to), Some(&from), Some(chance)) =
                    (to, places.get(other.as_str()), number(chance))
                {
                    links.push(CauseLink { from, to, chance });
                }
            }
        }
    }
    CauseNetwork {
        title: "Causes".to_owned(),
        nodes,
        links,
    }
}
