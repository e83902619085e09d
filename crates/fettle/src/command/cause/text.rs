//! The diagnosis in words.

use std::io::{self, Write};

use fettle_notes::ServiceNotes;
use fettle_reason::cause::{Diagnosis, Finding, Next, Plan, Weighed};

use super::Answered;
use crate::table::{Align, Table};

/// Faults and looks that are printed.
const MOST_FAULTS: usize = 10;
const MOST_LOOKS: usize = 8;

pub(super) fn print(
    notes: &ServiceNotes,
    answered: &Answered,
    out: &mut dyn Write,
) -> io::Result<()> {
    let diagnosis = &answered.diagnosis;
    findings(diagnosis, out)?;
    faults(notes, diagnosis, out)?;
    looks(notes, diagnosis, out)?;
    works(notes, diagnosis, out)?;
    comes_back(notes, diagnosis, out)?;
    if let Some(why) = &answered.why {
        writeln!(
            out,
            "\nWhat speaks for “{}” and against it",
            fault_name(notes, &why.fault)
        )?;
        weighed(notes, &why.evidence, out)?;
    }
    if let Some(plan) = &diagnosis.plan {
        writeln!(out, "\nThe plan from here")?;
        tree(notes, plan, 1, out)?;
    }
    let next = match &diagnosis.next {
        Next::Look(sign) => format!("look: {}", question(notes, sign)),
        Next::Work(work) => format!("do the work: {}", work_name(notes, work)),
        Next::Stop => "nothing more pays to look at or do".to_owned(),
    };
    writeln!(out, "\nNext, {next}")?;
    writeln!(
        out,
        "Until everything is found and cured: about {:.0} minutes ({:.0} without another look)",
        diagnosis.expected_minutes, diagnosis.without_looking_minutes
    )
}

fn findings(diagnosis: &Diagnosis, out: &mut dyn Write) -> io::Result<()> {
    for finding in &diagnosis.findings {
        match finding {
            Finding::SomethingElse { part } => writeln!(
                out,
                "Something else is going on: of cameras as the notes know them {:.1} % answer as improbably. Look again at what was seen, \
                 or for a fault that the notes do not have.\n",
                part * 100.0
            )?,
            Finding::Sampled { error } => writeln!(
                out,
                "The network is too tangled to be worked out exactly: the chances come from cameras drawn by lot, ±{:.3} at worst (k = 2).\n",
                2.0 * error
            )?,
        }
    }
    Ok(())
}

fn faults(notes: &ServiceNotes, diagnosis: &Diagnosis, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "Faults by chance")?;
    let mut table = Table::new([
        ("%", Align::Decimal),
        ("fault", Align::Left),
        ("id", Align::Left),
    ]);
    for fault in diagnosis.faults.iter().take(MOST_FAULTS) {
        let percent = format!("{:.1}", fault.probability * 100.0);
        table.row([
            percent,
            fault_name(notes, &fault.id).to_owned(),
            fault.id.clone(),
        ]);
    }
    table.print(out)
}

fn looks(notes: &ServiceNotes, diagnosis: &Diagnosis, out: &mut dyn Write) -> io::Result<()> {
    if diagnosis.looks.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\nLooks, in the order in which they would come next (minutes)"
    )?;
    let mut table = Table::new([
        ("saves", Align::Decimal),
        ("costs", Align::Decimal),
        ("% yes", Align::Decimal),
        ("look", Align::Left),
        ("id", Align::Left),
    ]);
    for look in diagnosis.looks.iter().take(MOST_LOOKS) {
        let opens = match look.opens.len() {
            0 => String::new(),
            n => format!(
                " [{n} off first: {}]",
                look.opens
                    .iter()
                    .map(ToString::to_string)
                    .collect::<Vec<_>>()
                    .join(", ")
            ),
        };
        table.row([
            format!("{:.1}", look.value_minutes),
            format!("{:.1}", look.cost_minutes),
            format!("{:.0}", look.probability * 100.0),
            format!("{}{opens}", question(notes, &look.id)),
            look.id.clone(),
        ]);
    }
    table.print(out)
}

fn works(notes: &ServiceNotes, diagnosis: &Diagnosis, out: &mut dyn Write) -> io::Result<()> {
    if diagnosis.works.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\nWorks that pay as the chances stand (minutes with their openings)"
    )?;
    let mut table = Table::new([
        ("costs", Align::Decimal),
        ("% needed", Align::Decimal),
        ("work", Align::Left),
        ("id", Align::Left),
    ]);
    for work in &diagnosis.works {
        table.row([
            format!("{:.1}", work.cost_minutes),
            format!("{:.0}", work.probability * 100.0),
            work_name(notes, &work.id).to_owned(),
            work.id.clone(),
        ]);
    }
    table.print(out)
}

fn comes_back(notes: &ServiceNotes, diagnosis: &Diagnosis, out: &mut dyn Write) -> io::Result<()> {
    if diagnosis.comes_back.is_empty() {
        return Ok(());
    }
    writeln!(out, "\nCured without its cause, the damage comes back")?;
    for back in &diagnosis.comes_back {
        writeln!(
            out,
            "  {}: brought on by {} ({:.0} %)",
            fault_name(notes, &back.damage),
            fault_name(notes, &back.cause),
            back.probability * 100.0
        )?;
    }
    Ok(())
}

fn weighed(notes: &ServiceNotes, evidence: &[Weighed], out: &mut dyn Write) -> io::Result<()> {
    let mut table = Table::new([
        ("log2 odds", Align::Decimal),
        ("answer", Align::Left),
        ("what", Align::Left),
    ]);
    for one in evidence {
        let answer = if one.there { "yes" } else { "no" };
        let weight = if one.weight.is_finite() {
            format!("{:+.2}", one.weight)
        } else {
            "decides".to_owned()
        };
        table.row([weight, answer.to_owned(), what(notes, &one.id).to_owned()]);
    }
    if table.is_empty() {
        writeln!(out, "  nothing is known yet that bears on it")?;
    }
    table.print(out)
}

fn tree(notes: &ServiceNotes, plan: &Plan, depth: usize, out: &mut dyn Write) -> io::Result<()> {
    let act = match (plan.act, &plan.id) {
        ("look", Some(id)) => question(notes, id).to_owned(),
        ("work", Some(id)) => format!("work: {}", work_name(notes, id)),
        _ => "done".to_owned(),
    };
    writeln!(
        out,
        "{}{act} (about {:.0} minutes from here)",
        "  ".repeat(depth),
        plan.expected_minutes
    )?;
    for branch in &plan.then {
        writeln!(
            out,
            "{}{} ({:.0} %):",
            "  ".repeat(depth),
            branch.answer,
            branch.probability * 100.0
        )?;
        tree(notes, &branch.plan, depth + 1, out)?;
    }
    Ok(())
}

fn fault_name<'a>(notes: &'a ServiceNotes, id: &'a str) -> &'a str {
    notes.faults.get(id).map_or(id, |fault| fault.name.as_str())
}

fn work_name<'a>(notes: &'a ServiceNotes, id: &'a str) -> &'a str {
    notes.works.get(id).map_or(id, |work| work.name.as_str())
}

fn question<'a>(notes: &'a ServiceNotes, id: &'a str) -> &'a str {
    notes
        .signs
        .get(id)
        .map_or(id, |sign| sign.question.as_str())
}

/// A sign's question, or the name of a circumstance or fault.
fn what<'a>(notes: &'a ServiceNotes, id: &'a str) -> &'a str {
    let circumstance = || notes.circumstances.get(id).map(|one| one.name.as_str());
    notes
        .signs
        .get(id)
        .map(|sign| sign.question.as_str())
        .or_else(circumstance)
        .unwrap_or_else(|| fault_name(notes, id))
}
