//! The session so far as a report.

use super::Listener;
use crate::Seconds;
use crate::shutter::{
    Curtain, Extent, Finding, FindingKind, Flag, Flash, Kind, LostAs, NamedExtent, Report, Sense,
    Shot, focal, patterns, speeds,
};

impl Listener {
    /// The session so far: shots, means and findings as [`analyse`](crate::shutter::analyse) gives them, without
    /// effective times at smaller stops; marks not fired yet are not told.
    #[must_use]
    pub fn report(&self, name: &str) -> Report {
        let mut report = Report {
            recording: self.extent(),
            recordings: vec![NamedExtent {
                name: name.to_owned(),
                extent: self.extent(),
            }],
            findings: self.findings.clone(),
            shots: Vec::new(),
            speeds: Vec::new(),
            apertures: Vec::new(),
            curtains: Vec::new(),
            flash: Vec::new(),
            clicks: Vec::new(),
        };
        let mut n = 0;
        for (number, release) in (1..).zip(&self.releases) {
            for shot in &release.shots {
                n += 1;
                let mut shot = shot.clone();
                shot.flags.retain(|flag| *flag != Flag::MarkUncertain);
                name.clone_into(&mut shot.recording);
                report.shots.push(Shot {
                    n,
                    release: number,
                    marked: release.told,
                    told: release.told.is_some(),
                    struck: release.struck,
                    guessed: false,
                    alternative: None,
                    error_stops: None,
                    ..shot
                });
            }
            report.curtains.extend(
                release
                    .curtain
                    .clone()
                    .map(|it| Curtain { n: number, ..it }),
            );
            report
                .flash
                .extend(release.flash.map(|it| Flash { n: number, ..it }));
        }
        let curtains = self.options.kind == Kind::FocalPlane && self.options.sense == Sense::Light;
        let at_centre = if curtains {
            focal::mark(&mut report.shots, &self.options)
        } else {
            speeds::mark(&mut report.shots, &self.options);
            report.shots.clone()
        };
        report.speeds = speeds::of(&at_centre, &self.options);
        if self.lost > 0 {
            report
                .findings
                .retain(|it| !matches!(it.what, FindingKind::NotFinite { .. }));
            report
                .findings
                .push(Finding::of_session(FindingKind::NotFinite {
                    samples: self.lost,
                }));
        }
        let told = self.missing().into_iter().map(|it| {
            Finding::of_session(FindingKind::LostSamples {
                at_s: it.from_s,
                lasts_s: it.to_s - it.from_s,
                lost_as: LostAs::Told,
            })
        });
        report.findings.extend(told);
        let over_dial =
            patterns::over_dial(&at_centre, &report.speeds, &report.curtains, &self.options);
        report.findings.extend(
            over_dial
                .into_iter()
                .filter(|it| !matches!(it.what, FindingKind::Missing { .. })),
        );
        report
    }

    fn extent(&self) -> Extent {
        Extent {
            sample_rate_hz: self.rate,
            channels: u16::try_from(self.channels()).unwrap_or(u16::MAX),
            seconds: Seconds::s(self.heard as f64 / self.rate.to_hz()),
        }
    }
}
