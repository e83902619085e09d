//! What is the matter with one camera: drawn forward through its model's network, from what it went
//! through over what is wrong to what can be seen, and from there to works, parts and the way in.

use std::collections::{BTreeMap, BTreeSet};

use fettle_bench::{FaultIs, Grade, Seen, Term};
use fettle_notes::{
    Fault, FaultId, FaultKind, Grade as NotesGrade, Origin, PartId, ServiceNotes, WorkId,
};
use fettle_reason::{Strip, disturbed};

use crate::lots::Lots;
use crate::models::TypedModel;

/// How often a camera is drawn again when it has nothing wrong, or so much that nobody would send it.
const DRAWS: usize = 200;
/// What a camera that is sent in has wrong with it.
const FAULTS: std::ops::RangeInclusive<usize> = 1..=5;
/// Standard deviation of the logarithm of minutes taken against minutes in the notes.
const MINUTES_SPREAD: f64 = 0.25;

/// What is the matter with one camera, in the record's words.
#[derive(Debug, Default)]
pub(crate) struct Matter {
    pub(crate) circumstances: Vec<(Term, bool)>,
    /// Every sign that can be looked at; those behind covers are not looked at.
    pub(crate) signs: Vec<(Term, Seen)>,
    /// Causes before what they brought on.
    pub(crate) faults: Vec<Wrong>,
    pub(crate) ruled_out: Vec<(Term, FaultIs)>,
    pub(crate) works: Vec<Job>,
    pub(crate) fitted: Vec<Fitted>,
    /// Pieces in the order in which they come off.
    pub(crate) pieces: Vec<Term>,
    /// Ids of the settings that the way in upsets, in the order in which they are proved.
    pub(crate) settings: Vec<String>,
}

/// A fault that is there.
#[derive(Debug)]
pub(crate) struct Wrong {
    pub(crate) fault: Term,
    pub(crate) is: FaultIs,
    /// The place in [`Matter::faults`] of what brought it on.
    pub(crate) because_of: Option<usize>,
    pub(crate) note: String,
}

/// A work and its minutes: as the notes have them, and as they turned out.
#[derive(Debug)]
pub(crate) struct Job {
    pub(crate) work: Term,
    pub(crate) usual: f64,
    pub(crate) taken: f64,
}

/// Pieces fitted in the course of the works.
#[derive(Debug)]
pub(crate) struct Fitted {
    pub(crate) part: Term,
    pub(crate) grade: Grade,
    pub(crate) quantity: u32,
    /// Price of all of them in cents.
    pub(crate) cents: i64,
}

impl Matter {
    /// Draws what is the matter with an example of this model.
    pub(crate) fn draw(notes: &ServiceNotes, lots: &mut Lots) -> Self {
        let mut drawn = Drawn::draw(notes, lots);
        for _ in 0..DRAWS {
            if FAULTS.contains(&drawn.faults.len()) {
                break;
            }
            drawn = Drawn::draw(notes, lots);
        }
        let mut matter = Self::default();
        for (id, there) in &drawn.circumstances {
            if let Some(it) = notes.circumstances.get(*id) {
                matter
                    .circumstances
                    .push((Term::known(*id, &it.name), *there));
            }
        }
        for (id, because_of) in &drawn.faults {
            let Some(it) = notes.faults.get(*id) else {
                continue;
            };
            matter.faults.push(Wrong {
                fault: Term::known(*id, &it.name),
                is: kind(it),
                because_of: *because_of,
                note: String::new(),
            });
        }
        matter.see(notes, &drawn, lots);
        matter.rule_out(notes, &drawn, lots);
        matter.plan_works(notes, &drawn, lots);
        matter
    }

    /// What is the matter with a camera that has no service notes.
    pub(crate) fn typed(model: &TypedModel, lots: &mut Lots) -> Self {
        Self {
            signs: vec![(Term::own(model.sign), Seen::Yes)],
            faults: vec![
                Wrong {
                    fault: Term::own(model.cause),
                    is: FaultIs::Cause,
                    because_of: None,
                    note: String::new(),
                },
                Wrong {
                    fault: Term::own(model.damage),
                    is: FaultIs::Damage,
                    because_of: Some(0),
                    note: String::new(),
                },
            ],
            works: vec![Job {
                work: Term::own(model.work),
                usual: model.minutes,
                taken: lots.log_normal(model.minutes, MINUTES_SPREAD).round(),
            }],
            pieces: vec![Term::own(model.piece)],
            ..Self::default()
        }
    }

    /// Whether a sign with this word in its id was seen.
    pub(crate) fn seen(&self, word: &str) -> bool {
        self.signs
            .iter()
            .any(|(sign, seen)| *seen == Seen::Yes && sign.key().contains(word))
    }

    /// Which signs are seen: noisy-or over the faults that are there, each with its chance, and the
    /// sign's own leak.
    fn see(&mut self, notes: &ServiceNotes, drawn: &Drawn<'_>, lots: &mut Lots) {
        for (id, sign) in notes.signs.iter() {
            let mut there = lots.chance(sign.leak.to_f64());
            for link in &sign.links {
                let fired = lots.chance(link.chance.to_f64());
                there |= fired && drawn.has(&link.fault);
            }
            let seen = match (sign.needs_apart.is_empty(), there) {
                (false, _) => Seen::NotLooked,
                (true, true) => Seen::Yes,
                (true, false) => Seen::No,
            };
            self.signs
                .push((Term::known(id.as_str(), &sign.question), seen));
        }
    }

    /// Up to two likely faults that were looked for and are not there.
    fn rule_out(&mut self, notes: &ServiceNotes, drawn: &Drawn<'_>, lots: &mut Lots) {
        let absent: Vec<_> = notes
            .faults
            .iter()
            .filter(|(id, _)| !drawn.has(id))
            .collect();
        for _ in 0..2 {
            if let Some((id, fault)) = lots.pick(&absent) {
                let term = Term::known(id.as_str(), &fault.name);
                if self.ruled_out.iter().all(|(known, _)| *known != term) {
                    self.ruled_out.push((term, kind(fault)));
                }
            }
        }
    }

    /// One work for each fault, the parts that it uses, what must come off and what that upsets.
    fn plan_works(&mut self, notes: &ServiceNotes, drawn: &Drawn<'_>, lots: &mut Lots) {
        let mut chosen: Vec<&WorkId> = Vec::new();
        for (id, _) in &drawn.faults {
            let cures = notes
                .faults
                .get(*id)
                .map_or(&[][..], |fault| &fault.cured_by);
            if !cures.iter().any(|work| chosen.contains(&work)) {
                chosen.extend(cures.first());
            }
        }
        let mut off: Vec<PartId> = Vec::new();
        for id in chosen {
            let Some(work) = notes.works.get(id) else {
                continue;
            };
            let usual = work.minutes.to_f64();
            self.works.push(Job {
                work: Term::known(id.as_str(), &work.name),
                usual,
                taken: lots.log_normal(usual, MINUTES_SPREAD).round().max(1.0),
            });
            for used in &work.parts {
                self.fit(notes, &used.part, used.count, lots);
            }
            for part in &work.needs_apart {
                take_off(notes, part, &mut off);
            }
        }
        for part in &off {
            let name = notes
                .parts
                .get(part)
                .map_or(part.as_str(), |it| it.name.as_str());
            self.pieces.push(Term::known(part.as_str(), name));
        }
        let upset = disturbed(notes, &off);
        self.settings = upset.iter().map(|it| it.setting.to_string()).collect();
    }

    fn fit(&mut self, notes: &ServiceNotes, part: &PartId, count: u32, lots: &mut Lots) {
        let Some(it) = notes.parts.get(part) else {
            return;
        };
        let grades: Vec<Grade> = it.grades.iter().map(|note| grade(note.grade)).collect();
        let grade = lots.pick(&grades).copied().unwrap_or(Grade::Salvaged);
        let (low, high) = match grade {
            Grade::Original => (18, 34),
            Grade::Reproduction => (9, 22),
            Grade::Salvaged => (4, 14),
            Grade::Made => (16, 45),
        };
        self.fitted.push(Fitted {
            part: Term::known(part.as_str(), &it.name),
            grade,
            quantity: count,
            cents: 50 * lots.whole(2 * low, 2 * high) * i64::from(count),
        });
    }
}

/// Circumstances and faults of one draw.
struct Drawn<'n> {
    circumstances: Vec<(&'n str, bool)>,
    /// What is there, causes first, each with the place of the fault that brought it on.
    faults: Vec<(&'n str, Option<usize>)>,
}

impl<'n> Drawn<'n> {
    fn draw(notes: &'n ServiceNotes, lots: &mut Lots) -> Self {
        let circumstances: Vec<(&str, bool)> = notes
            .circumstances
            .iter()
            .map(|(id, it)| (id.as_str(), lots.chance(it.chance.to_f64())))
            .collect();
        let mut drawn = Self {
            circumstances,
            faults: Vec::new(),
        };
        let mut decided = BTreeMap::new();
        for (id, _) in notes.faults.iter() {
            drawn.decide(notes, id, &mut decided, lots);
        }
        drawn
    }

    /// Whether a fault is there; those that could bring it on are decided before it.
    fn decide(
        &mut self,
        notes: &'n ServiceNotes,
        id: &'n FaultId,
        decided: &mut BTreeMap<&'n str, Option<usize>>,
        lots: &mut Lots,
    ) -> Option<usize> {
        if let Some(known) = decided.get(id.as_str()) {
            return *known;
        }
        let fault = notes.faults.get(id)?;
        let mut there = lots.chance(fault.leak.to_f64());
        let mut because_of = None;
        for origin in &fault.brought_on_by {
            let parent = match origin {
                Origin::Circumstance { id, .. } => {
                    let holds = (id.as_str(), true);
                    self.circumstances.contains(&holds).then_some(None)
                }
                Origin::Fault { id, .. } => self.decide(notes, id, decided, lots).map(Some),
            };
            let fired = lots.chance(origin.chance().to_f64());
            if let (Some(parent), true) = (parent, fired) {
                there = true;
                because_of = because_of.or(parent);
            }
        }
        let place = there.then(|| {
            self.faults.push((id.as_str(), because_of));
            self.faults.len() - 1
        });
        decided.insert(id.as_str(), place);
        place
    }

    fn has(&self, fault: &FaultId) -> bool {
        self.faults.iter().any(|(id, _)| *id == fault.as_str())
    }
}

/// Takes a part off after everything that stands in its way; of several ways in, the first.
fn take_off(notes: &ServiceNotes, part: &PartId, off: &mut Vec<PartId>) {
    let mut wanted = vec![part.clone()];
    let mut asked = BTreeSet::new();
    while let Some(next) = wanted.last().cloned() {
        let strip = Strip::new(notes, &*off);
        if strip.is_off(&next) || !notes.removals.contains(&next) {
            wanted.pop();
            continue;
        }
        let missing = strip.missing_before(&next);
        let before: Vec<PartId> = missing
            .after
            .iter()
            .chain(missing.either.first().into_iter().flatten())
            .map(|part| (*part).clone())
            .filter(|part| notes.removals.contains(part))
            .collect();
        if before.is_empty() || !asked.insert(next.clone()) {
            off.push(next);
            wanted.pop();
        } else {
            wanted.extend(before.into_iter().rev());
        }
    }
}

fn kind(fault: &Fault) -> FaultIs {
    match fault.is {
        FaultKind::Cause => FaultIs::Cause,
        FaultKind::Damage => FaultIs::Damage,
    }
}

pub(crate) fn grade(grade: NotesGrade) -> Grade {
    match grade {
        NotesGrade::Original => Grade::Original,
        NotesGrade::Reproduction => Grade::Reproduction,
        NotesGrade::Salvaged => Grade::Salvaged,
        NotesGrade::Made => Grade::Made,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::models;

    fn matters() -> Vec<(ServiceNotes, Matter)> {
        let mut all = Vec::new();
        for (n, notes) in models::read().unwrap().into_iter().enumerate() {
            for k in 0..60 {
                let matter = Matter::draw(&notes, &mut Lots::of(1, "matter", 100 * n + k));
                all.push((notes.clone(), matter));
            }
        }
        all
    }

    #[test]
    fn every_camera_has_something_wrong_and_a_work_that_cures_it() {
        for (notes, matter) in matters() {
            assert!(!matter.faults.is_empty());
            for wrong in &matter.faults {
                let cures = &notes.faults.get(wrong.fault.key()).unwrap().cured_by;
                let planned = |work: &Job| cures.iter().any(|id| id.as_str() == work.work.key());
                assert!(matter.works.iter().any(planned), "{}", wrong.fault);
            }
        }
    }

    #[test]
    fn a_fault_that_was_brought_on_comes_after_what_brought_it_on() {
        for (notes, matter) in matters() {
            for (n, wrong) in matter.faults.iter().enumerate() {
                let Some(cause) = wrong.because_of else {
                    continue;
                };
                assert!(cause < n);
                let fault = notes.faults.get(wrong.fault.key()).unwrap();
                let cause = matter.faults[cause].fault.key();
                assert!(
                    fault
                        .brought_on_by
                        .iter()
                        .any(|origin| origin.as_str() == cause)
                );
            }
        }
    }

    #[test]
    fn every_piece_comes_off_after_what_stands_in_its_way() {
        for (notes, matter) in matters() {
            let mut off: Vec<PartId> = Vec::new();
            for piece in &matter.pieces {
                let part = PartId::new(piece.key()).unwrap();
                let strip = Strip::new(&notes, &off);
                assert!(!strip.is_off(&part), "{piece} comes off twice");
                assert!(
                    strip.missing_before(&part).is_empty(),
                    "{piece} comes off too early"
                );
                off.push(part);
            }
        }
    }

    #[test]
    fn signs_are_seen_as_often_as_the_notes_say() {
        let notes = models::read().unwrap().remove(0);
        let (mut with, mut seen) = (0, 0);
        let sign = notes
            .signs
            .iter()
            .find(|(_, it)| it.needs_apart.is_empty())
            .unwrap();
        let link = &sign.1.links[0];
        for k in 0..3000 {
            let mut lots = Lots::of(5, "signs", k);
            let drawn = Drawn::draw(&notes, &mut lots);
            let only = sign
                .1
                .links
                .iter()
                .filter(|it| drawn.has(&it.fault))
                .count()
                == 1;
            if only && drawn.has(&link.fault) {
                let mut matter = Matter::default();
                matter.see(&notes, &drawn, &mut lots);
                with += 1;
                seen += usize::from(matter.seen(sign.0.as_str()));
            }
        }
        assert!(with >= 30, "only {with} draws have the fault alone");
        let want = 1.0 - (1.0 - link.chance.to_f64()) * (1.0 - sign.1.leak.to_f64());
        let got = f64::from(seen as u32) / f64::from(with);
        let deviation = (want * (1.0 - want) / f64::from(with)).sqrt();
        assert!(
            (got - want).abs() < 4.0 * deviation + 0.02,
            "{got} instead of {want}"
        );
    }
}
