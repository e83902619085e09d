//! What the instrument said of a group's cases against what is true of them.

use std::f64::consts::LN_2;

use fettle_measure::shutter::{Curtain, FindingKind, Report, Sense, Shot};
use fettle_measure::{Seconds, Stops};

use super::case::{Asked, Case, TrueRelease, TrueShot, Wanted};

/// A reported shot belongs to a true one that begins this near.
const NEAR_S: f64 = 0.02;

/// By sound, a time this far from the truth is that between other clicks.
const OTHER_PAIR_S: f64 = 0.010;
/// Findings of what the dial as a whole shows.
const PATTERNS: [&str; 11] = [
    "slow-first",
    "alike",
    "missing",
    "all-slow",
    "all-fast",
    "slow-end",
    "top-speed",
    "scatter",
    "uneven",
    "capping",
    "bounce",
];

/// A stated figure against the truth.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Compared {
    /// Error in the quantity's own unit.
    pub(crate) error: f64,
    /// Stated expanded uncertainty in the same unit; `None` where none is stated.
    pub(crate) stated: Option<f64>,
}

#[derive(Clone, Default)]
pub(crate) struct Tally {
    pub(crate) cases: usize,
    /// Effective times, in stops.
    pub(crate) effective: Vec<Compared>,
    /// Total times, in milliseconds.
    pub(crate) total: Vec<Compared>,
    /// Effective times at smaller stops, in stops.
    pub(crate) apertures: Vec<Compared>,
    /// Evenness over the frame, in stops.
    pub(crate) evenness: Vec<Compared>,
    /// Travels of curtains, in percent.
    pub(crate) travel: Vec<Compared>,
    /// Contact to fully open, in milliseconds.
    pub(crate) flash: Vec<Compared>,
    /// Releases whose flash is told where it cannot be, or is not where it can.
    pub(crate) flash_wrong: usize,
    /// From where on the slit is closed, in millimetres.
    pub(crate) capped: Vec<Compared>,
    /// Releases said to be capped that are not, and the other way round.
    pub(crate) capped_wrong: usize,
    /// Times told by sound, in stops, and how many could be.
    pub(crate) heard: Vec<Compared>,
    pub(crate) to_hear: usize,
    /// Shots that are there to be measured.
    pub(crate) there: usize,
    pub(crate) missed: usize,
    pub(crate) invented: usize,
    pub(crate) wrong: usize,
    pub(crate) unsure: usize,
    /// Recordings with a finding that is not true of them, those of them with a pattern over the
    /// dial, and recordings with one untold that should be.
    pub(crate) false_findings: usize,
    pub(crate) false_patterns: usize,
    pub(crate) untold_findings: usize,
    /// Cases that are to be refused, and those that were.
    pub(crate) to_refuse: usize,
    pub(crate) refused: usize,
    /// What is worth a look, for `--verbose`.
    pub(crate) notes: Vec<String>,
}

impl Compared {
    pub(crate) fn holds(&self) -> bool {
        self.stated.is_some_and(|stated| self.error.abs() <= stated)
    }
}

impl Tally {
    pub(crate) fn add(&mut self, other: Self) {
        self.cases += other.cases;
        self.effective.extend(other.effective);
        self.total.extend(other.total);
        self.apertures.extend(other.apertures);
        self.evenness.extend(other.evenness);
        self.travel.extend(other.travel);
        self.flash.extend(other.flash);
        self.flash_wrong += other.flash_wrong;
        self.capped.extend(other.capped);
        self.capped_wrong += other.capped_wrong;
        self.heard.extend(other.heard);
        self.to_hear += other.to_hear;
        self.there += other.there;
        self.missed += other.missed;
        self.invented += other.invented;
        self.wrong += other.wrong;
        self.unsure += other.unsure;
        self.false_findings += other.false_findings;
        self.false_patterns += other.false_patterns;
        self.untold_findings += other.untold_findings;
        self.to_refuse += other.to_refuse;
        self.refused += other.refused;
        self.notes.extend(other.notes);
    }

    /// What was told by sound is no part of what is measured by light.
    pub(crate) fn keep_apart(&mut self) {
        self.heard = std::mem::take(&mut self.effective);
        self.to_hear = std::mem::take(&mut self.there);
        self.missed = 0;
    }

    /// Measures one case and compares.
    pub(crate) fn of(mut case: Case) -> Self {
        let mut tally = Self {
            cases: 1,
            ..Self::default()
        };
        let report = case.measure();
        match case.wanted {
            Wanted::Refused => tally.refusal(report),
            Wanted::Measured => match report {
                Ok(report) => tally.compare(&case, &report),
                Err(error) => {
                    tally.there = case
                        .shots
                        .iter()
                        .filter(|it| it.asked == Asked::Told)
                        .count();
                    tally.missed = tally.there;
                    tally.notes.push(error);
                }
            },
        }
        tally
    }

    fn refusal(&mut self, report: Result<Report, String>) {
        self.to_refuse = 1;
        match report {
            Ok(report) if report.shots.iter().any(|shot| shot.effective_s.is_some()) => {
                let told = report.shots.iter().filter_map(|shot| shot.effective_s);
                let told: Vec<String> = told.map(|it| format!("{:.2} ms", it.to_ms())).collect();
                self.notes.push(format!("not refused: {}", told.join(", ")));
            }
            _ => self.refused = 1,
        }
    }

    fn compare(&mut self, case: &Case, report: &Report) {
        let mut used = vec![false; report.shots.len()];
        let mut matched: Vec<(&TrueShot, &Shot)> = Vec::new();
        // Each true release with its number in the report.
        let mut numbers = vec![None; case.releases.len()];
        for truth in &case.shots {
            let near = report.shots.iter().enumerate().find(|(index, shot)| {
                !used[*index]
                    && shot.recording == truth.recording
                    && shot.channel == truth.channel
                    && (shot.start_s - truth.start).abs().to_s() < NEAR_S
            });
            let reported = near.map(|(index, shot)| {
                used[index] = true;
                shot
            });
            if let (Some(number), Some(shot)) = (numbers.get_mut(truth.release), reported) {
                *number = Some(shot.release);
            }
            self.there += usize::from(truth.asked == Asked::Told);
            match reported {
                Some(shot) if shot.effective_s.is_some() && truth.asked != Asked::Nothing => {
                    matched.push((truth, shot));
                }
                _ if truth.asked == Asked::Told => {
                    self.missed += 1;
                    let flags = reported.map(|shot| &shot.flags);
                    self.notes.push(format!(
                        "missed {} at {:?} {flags:?}",
                        name(truth),
                        truth.start
                    ));
                }
                _ => {}
            }
        }
        let by_sound = case.options.sense == Sense::Sound;
        let may_be_untold = |shot: &Shot| {
            // A shot that the recording begins in has no first crossing to be matched by; by sound
            // other clicks are shown as what they could be.
            let cut = |truth: &TrueShot| {
                truth.asked == Asked::Nothing && truth.recording == shot.recording
            };
            shot.effective_s.is_none() && (by_sound || case.shots.iter().any(cut))
        };
        for (shot, _) in report.shots.iter().zip(&used).filter(|(_, used)| !**used) {
            if !may_be_untold(shot) {
                self.invented(shot, "nothing");
            }
        }
        if by_sound {
            matched.retain(|(truth, shot)| {
                let error = shot.effective_s.map(|it| (it - truth.effective).abs());
                let is_it = error.is_some_and(|it| it.to_s() < OTHER_PAIR_S);
                if !is_it {
                    self.invented(shot, &name(truth));
                }
                is_it
            });
        }
        for (truth, shot) in &matched {
            self.times(truth, shot);
            self.mark(truth, shot);
        }
        self.stops(case, report, &matched);
        for (truth, number) in case.releases.iter().zip(numbers) {
            self.release(truth, report, number);
        }
        self.findings(case, report);
    }

    fn invented(&mut self, shot: &Shot, truly: &str) {
        self.invented += 1;
        self.notes.push(format!(
            "invented {:?} at {:?} {:?}, truly {truly}",
            shot.effective_s, shot.start_s, shot.flags
        ));
    }

    /// Curtains and flash of one release.
    fn release(&mut self, truth: &TrueRelease, report: &Report, number: Option<u32>) {
        let curtain = report.curtains.iter().find(|it| Some(it.n) == number);
        if let Some(curtain) = curtain.filter(|_| !truth.travels.is_empty()) {
            self.curtains(truth, curtain);
        }
        let Some(want) = truth.flash else {
            return;
        };
        let flash = report.flash.iter().find(|it| Some(it.n) == number);
        let told = flash.and_then(|it| it.delay_s);
        if let (Some(delay), Some(want)) = (told, want) {
            let compared = Compared {
                error: (delay - want).to_ms(),
                stated: flash.and_then(|it| it.uncertainty_s).map(Seconds::to_ms),
            };
            self.note("flash, ms", compared);
            self.flash.push(compared);
        }
        if told.is_some() != want.is_some() {
            self.flash_wrong += 1;
            self.notes.push(format!("flash {flash:?}, truly {want:?}"));
        }
    }

    fn note(&mut self, what: &str, compared: Compared) {
        if !compared.holds() {
            self.notes.push(format!(
                "{what}: error {:+.5} stated {:.5}",
                compared.error,
                compared.stated.unwrap_or(0.0)
            ));
        }
    }

    fn curtains(&mut self, truth: &TrueRelease, told: &Curtain) {
        let travels = [
            (told.first_travel_s, told.first_travel_u_s),
            (told.second_travel_s, told.second_travel_u_s),
        ];
        for ((got, stated), want) in travels.into_iter().zip(&truth.travels) {
            let Some(got) = got else { continue };
            let compared = Compared {
                error: 100.0 * (got / *want - 1.0),
                stated: stated.map(|it| 100.0 * (it / got)),
            };
            self.note("travel, %", compared);
            self.travel.push(compared);
        }
        if let (Some(got), Some(want)) = (told.evenness_stops, truth.evenness) {
            let compared = Compared {
                error: (got - want).to_stops(),
                stated: told.evenness_u_stops.map(Stops::to_stops),
            };
            self.note("evenness, stops", compared);
            self.evenness.push(compared);
        }
        match (told.capped_from_mm, truth.capped_from) {
            (Some(got), Some(want)) => self.capped.push(Compared {
                error: (got - want).to_mm(),
                stated: None,
            }),
            (None, None) => {}
            (got, want) => {
                self.capped_wrong += 1;
                self.notes
                    .push(format!("capped from {got:?}, truly {want:?}"));
            }
        }
    }

    fn times(&mut self, truth: &TrueShot, shot: &Shot) {
        let Some(effective) = shot.effective_s else {
            return;
        };
        let compared = Compared {
            error: (effective / truth.effective).log2(),
            stated: shot.uncertainty_s.map(|it| it / effective / LN_2),
        };
        if !compared.holds() {
            let parts = shot.budget.parts();
            let parts = parts.iter().filter(|(_, part)| part.to_s() > 0.0);
            let parts: Vec<String> = parts
                .map(|(name, part)| format!("{name} {:.3}", part.to_s() * 1e6))
                .collect();
            self.notes.push(format!(
                "{} error {:+.5} stated {:.5} ({:+.3} µs) {:?}: {} µs",
                name(truth),
                compared.error,
                compared.stated.unwrap_or(0.0),
                (effective - truth.effective).to_s() * 1e6,
                shot.flags,
                parts.join(", ")
            ));
        }
        self.effective.push(compared);
        if let (Some(got), Some(want)) = (shot.total_s, truth.total) {
            let compared = Compared {
                error: (got - want).to_ms(),
                stated: shot.total_uncertainty_s.map(Seconds::to_ms),
            };
            self.note("total time, ms", compared);
            self.total.push(compared);
        }
    }

    fn mark(&mut self, truth: &TrueShot, shot: &Shot) {
        if shot.alternative.is_some() {
            self.unsure += 1;
        } else if shot.marked != truth.mark {
            self.wrong += 1;
            self.notes
                .push(format!("{} taken for {:?}", name(truth), shot.marked));
        }
    }

    /// Each figure of the table against the mean truth of the shots that went into it.
    fn stops(&mut self, case: &Case, report: &Report, matched: &[(&TrueShot, &Shot)]) {
        for aperture in &report.apertures {
            let index = case
                .options
                .stops_f
                .iter()
                .position(|f| (f - aperture.f).abs() < 1e-9);
            let Some(index) = index else { continue };
            let truths: Vec<Seconds> = matched
                .iter()
                .filter(|(_, shot)| shot.marked == Some(aperture.marked))
                .filter_map(|(truth, _)| truth.stopped.get(index).copied())
                .collect();
            if truths.is_empty() {
                continue;
            }
            let mean = truths.iter().copied().sum::<Seconds>() / truths.len() as f64;
            self.apertures.push(Compared {
                error: (aperture.effective_s / mean).log2(),
                stated: None,
            });
        }
    }

    fn findings(&mut self, case: &Case, report: &Report) {
        let told: Vec<String> = report
            .findings
            .iter()
            .map(|finding| kind(&finding.what))
            .collect();
        let known: Vec<&&str> = case
            .findings
            .wanted
            .iter()
            .chain(&case.findings.allowed)
            .collect();
        let untrue: Vec<&String> = told
            .iter()
            .filter(|it| !known.iter().any(|known| **known == it.as_str()))
            .collect();
        let untold: Vec<&&str> = case
            .findings
            .wanted
            .iter()
            .filter(|kind| told.iter().all(|it| it != *kind))
            .collect();
        if !untrue.is_empty() {
            self.false_findings += 1;
            let pattern = |it: &&&String| PATTERNS.contains(&it.as_str());
            self.false_patterns += usize::from(untrue.iter().any(|it| pattern(&it)));
            let flagged = report.shots.iter().filter(|it| !it.flags.is_empty());
            let flagged: Vec<_> = flagged
                .map(|it| (it.n, it.effective_s, &it.flags))
                .collect();
            self.notes.push(format!(
                "false findings {untrue:?}, of the shots {flagged:?}"
            ));
        }
        if !untold.is_empty() {
            self.untold_findings += 1;
            self.notes.push(format!("untold findings {untold:?}"));
        }
    }
}

fn name(truth: &TrueShot) -> String {
    truth
        .mark
        .map_or_else(|| format!("{:?}", truth.effective), |mark| mark.to_string())
}

/// A finding's name in JSON.
fn kind(what: &FindingKind) -> String {
    let json = serde_json::to_value(what).unwrap_or_default();
    json.get("kind")
        .and_then(serde_json::Value::as_str)
        .unwrap_or_default()
        .to_owned()
}

/// The value that `part` of the values do not pass; not a number when there are none.
pub(crate) fn quantile(values: impl IntoIterator<Item = f64>, part: f64) -> f64 {
    let mut sorted: Vec<f64> = values.into_iter().collect();
    sorted.sort_by(f64::total_cmp);
    let index = ((sorted.len() as f64 * part).ceil() as usize).max(1) - 1;
    sorted.get(index).copied().unwrap_or(f64::NAN)
}
