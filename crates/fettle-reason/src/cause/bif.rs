//! The network in the Bayesian interchange format, for other programs.

use std::fmt::Write;

use fettle_notes::{Node, NodeKind, ServiceNotes};

/// A table of more parents than this is split into a chain of tables, each the OR of the one before and of further parents.
const WIDEST: usize = 6;

/// Writes the causal network in the Bayesian interchange format (BIF 0.15, Cozman 1998): every variable with the values `no` and
/// `yes`, every noisy-OR as plain tables, the same text for the same notes.
///
/// Names are `circumstance_`, `fault_` or `sign_` and the id with `_` for `-`; the links of a chain end in `__1`, `__2` and so on.
#[must_use]
pub fn bif(notes: &ServiceNotes) -> String {
    let nodes = notes.network();
    let mut text = format!("network {} {{\n}}\n", word(notes.model.id.as_str()));
    let mut tables = String::new();
    for node in &nodes {
        let parents: Vec<(String, f64)> = node
            .parents
            .iter()
            .map(|parent| (name(parent.kind, &parent.id), parent.chance.to_f64()))
            .collect();
        split(
            &name(node.kind, &node.id),
            node,
            &parents,
            &mut text,
            &mut tables,
        );
    }
    text + &tables
}

fn split(
    name: &str,
    node: &Node,
    parents: &[(String, f64)],
    variables: &mut String,
    tables: &mut String,
) {
    let mut leak = node.leak.to_f64();
    let mut before: Option<String> = None;
    let mut groups: Vec<&[(String, f64)]> = parents.chunks(WIDEST - 1).collect();
    if groups.is_empty() {
        groups.push(&[]);
    }
    let last = groups.len() - 1;
    for (at, group) in groups.into_iter().enumerate() {
        let this = if at == last {
            name.to_owned()
        } else {
            format!("{name}__{}", at + 1)
        };
        let all: Vec<(String, f64)> = before
            .map(|before| (before, 1.0))
            .into_iter()
            .chain(group.iter().cloned())
            .collect();
        // Writing to a string does not fail.
        let _ = write!(
            variables,
            "variable {this} {{\n  type discrete [ 2 ] {{ no, yes }};\n}}\n"
        );
        table(&this, leak, &all, tables);
        leak = 0.0;
        before = Some(this);
    }
}

fn table(name: &str, leak: f64, parents: &[(String, f64)], out: &mut String) {
    if parents.is_empty() {
        let _ = write!(
            out,
            "probability ( {name} ) {{\n  table {}, {};\n}}\n",
            1.0 - leak,
            leak
        );
        return;
    }
    let names: Vec<&str> = parents.iter().map(|(name, _)| name.as_str()).collect();
    let _ = writeln!(out, "probability ( {name} | {} ) {{", names.join(", "));
    for row in 0..1_usize << parents.len() {
        let present = |at: usize| row >> (parents.len() - 1 - at) & 1 == 1;
        let spared = parents
            .iter()
            .enumerate()
            .filter(|(at, _)| present(*at))
            .map(|(_, (_, chance))| 1.0 - chance);
        let absent = (1.0 - leak) * spared.product::<f64>();
        let values: Vec<&str> = (0..parents.len())
            .map(|at| if present(at) { "yes" } else { "no" })
            .collect();
        let _ = writeln!(
            out,
            "  ({}) {}, {};",
            values.join(", "),
            absent,
            1.0 - absent
        );
    }
    out.push_str("}\n");
}

fn name(kind: NodeKind, id: &str) -> String {
    format!("{kind}_{}", word(id))
}

fn word(id: &str) -> String {
    id.replace('-', "_")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_root_is_a_plain_table() {
        let mut out = String::new();
        table("sign_a", 0.25, &[], &mut out);
        assert_eq!(out, "probability ( sign_a ) {\n  table 0.75, 0.25;\n}\n");
    }

    #[test]
    fn rows_run_with_the_last_parent_fastest() {
        let mut out = String::new();
        table(
            "x",
            0.0,
            &[("a".to_owned(), 0.5), ("b".to_owned(), 1.0)],
            &mut out,
        );
        let rows: Vec<&str> = out.lines().skip(1).collect();
        assert_eq!(
            rows,
            [
                "  (no, no) 1, 0;",
                "  (no, yes) 0, 1;",
                "  (yes, no) 0.5, 0.5;",
                "  (yes, yes) 0, 1;",
                "}"
            ]
        );
    }
}
