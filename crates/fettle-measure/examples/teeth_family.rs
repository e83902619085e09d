//! How near the teeth instrument comes to the truth, over families of made photographs: `cargo run --release -p fettle-measure --example
//! teeth_family [FIRST_SEED] [COUNT]`.
#![expect(clippy::print_stdout, reason = "the table is what it is for")]

use fettle_measure::synth::{TeethScene, TeethShot, ToothDamage, ToothedPart};
use fettle_measure::teeth::{Kind, Options, Report, Scale, Tooth, Verdict, analyse};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

struct Lots(ChaCha8Rng);

impl Lots {
    fn part(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }
    fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.part()
    }
    fn sign(&mut self) -> f64 {
        if self.part() < 0.5 { -1.0 } else { 1.0 }
    }
}

fn scene(seed: u64, unkind: bool) -> TeethScene {
    let mut lots = Lots(ChaCha8Rng::seed_from_u64(seed ^ 0x7ee7));
    let width = lots.between(1500.0, 4000.0);
    let height = width * lots.between(0.6, 0.8);
    let is_gear = seed % 2 == 1;
    let module_mm = lots.between(0.3, 1.0);
    let teeth = if is_gear {
        lots.between(12.0, 60.0) as u32
    } else {
        lots.between(8.0, 30.0) as u32
    };
    let z = f64::from(teeth);
    let fill = lots.between(0.7, 0.88);
    let px_per_mm = if is_gear {
        fill * height / ((z + 2.0) * module_mm)
    } else {
        fill * width / (std::f64::consts::PI * z * module_mm)
    };
    let part = if is_gear {
        ToothedPart::Gear(lots.between(0.0, 0.3))
    } else {
        ToothedPart::Rack
    };
    let mut scene = TeethScene::plain(part, teeth, module_mm, px_per_mm);
    scene.width = width as usize;
    scene.height = height as usize;
    scene.seed = seed;
    scene.turn_rad = if is_gear {
        lots.between(0.0, std::f64::consts::TAU)
    } else {
        lots.between(-0.15, 0.15)
            + if lots.part() < 0.3 {
                std::f64::consts::PI
            } else {
                0.0
            }
    };
    scene.place_px = [
        lots.between(-0.02, 0.02) * width,
        lots.between(-0.02, 0.02) * width,
    ];
    scene.askew_rad = [lots.between(-0.05, 0.05), lots.between(-0.05, 0.05)];
    scene.distance = lots.between(3.0, 8.0);
    scene.blur_px = lots.between(0.7, 2.2);
    scene.bright = lots.between(0.5, 0.9);
    scene.stray = lots.between(0.005, 0.06);
    scene.uneven = lots.between(0.0, 1.0);
    scene.noise = lots.between(0.004, 0.03);
    scene.dust = lots.between(0.0, 60.0) as u32;
    let pitch_px = std::f64::consts::PI * module_mm * px_per_mm;
    let most = (0.12 * pitch_px).clamp(4.0, 25.0);
    for tooth in 0..teeth {
        if lots.part() > 0.3 {
            continue;
        }
        let px = lots.between(3.0, most);
        let side = lots.sign();
        let damage = match (lots.part() * 9.0) as u32 {
            0..=2 => ToothDamage::Flank(side, px),
            3..=4 => ToothDamage::Tip(px),
            5..=6 => ToothDamage::Bent(side * px),
            7 => ToothDamage::Burr(side, px),
            _ => ToothDamage::Missing,
        };
        // What is broken off at a rack's end cannot be told without the count.
        let is_end = !is_gear && (tooth == 0 || tooth + 1 == teeth);
        if !(is_end && damage == ToothDamage::Missing) {
            scene.damage.push((tooth, damage));
        }
    }
    if unkind {
        scene.bending = lots.between(-0.02, 0.02);
        scene.thickness = lots.between(0.5, 4.0);
        scene.shine = (lots.between(0.0, 25.0) as u32, lots.between(0.1, 0.35));
        scene.oil = (lots.between(0.0, 12.0) as u32, lots.between(0.15, 0.45));
    }
    scene
}

#[derive(Default)]
struct Tally {
    flank: Vec<f64>,
    tip: Vec<f64>,
    bend: Vec<f64>,
    burr: Vec<f64>,
    covered: (u32, u32),
    sound: u32,
    sound_called_worn: u32,
    sound_undecided: u32,
    damaged: u32,
    missed: u32,
    undecided: u32,
    refused: Vec<(u64, String)>,
    photographs: u32,
}

impl Tally {
    fn take(&mut self, seed: u64, shot: &TeethShot, report: &Report) {
        let say = std::env::args().nth(3).is_some();
        for truth in &shot.truth {
            let near = |t: &&Tooth| (t.x_px - truth.at_px[0]).hypot(t.y_px - truth.at_px[1]);
            let Some(tooth) = report
                .teeth
                .iter()
                .min_by(|a, b| near(a).total_cmp(&near(b)))
            else {
                continue;
            };
            if near(&tooth) > 0.4 * report.pitch_px {
                self.missed += u32::from(!truth.is_sound());
                println!("{seed}: no tooth near {truth:?}");
                continue;
            }
            let px = |v: Option<f64>| v.map(|v| v * report.px_per_mm);
            if truth.is_sound() {
                self.sound += 1;
                self.sound_called_worn +=
                    u32::from(matches!(tooth.verdict, Verdict::Worn | Verdict::Missing));
                self.sound_undecided += u32::from(tooth.verdict == Verdict::Undecided);
            } else {
                self.damaged += 1;
                let is_missed = if truth.is_missing {
                    tooth.verdict != Verdict::Missing
                } else {
                    tooth.verdict == Verdict::Sound
                };
                self.missed += u32::from(is_missed);
                let is_burr = truth.burr_px > 0.0;
                self.undecided += u32::from(tooth.verdict == Verdict::Undecided && !is_burr);
            }
            if say && (truth.is_sound() != (tooth.verdict == Verdict::Sound)) {
                let f = |v: Option<f64>| px(v).map_or("-".to_owned(), |v| format!("{v:.2}"));
                println!(
                    "{seed}: n {} {:?} f {} t {} p {} b {} g {} truth f {:.2} t {:.2} b {:.2} g {:.2} m {}",
                    tooth.n,
                    tooth.verdict,
                    f(tooth.flank_mm),
                    f(tooth.tip_loss_mm),
                    f(tooth.pitch_error_mm),
                    f(tooth.bend_mm),
                    f(tooth.burr_mm),
                    truth.flank_px,
                    truth.tip_px,
                    truth.bend_px,
                    truth.burr_px,
                    truth.is_missing
                );
            }
            let mut against = |list: &mut Vec<f64>, got: Option<f64>, u: Option<f64>, want: f64| {
                if let (Some(got), Some(u)) = (px(got), px(u)) {
                    list.push((got - want).abs());
                    self.covered.0 += u32::from((got - want).abs() <= u);
                    self.covered.1 += 1;
                }
            };
            if truth.is_missing {
                continue;
            }
            if truth.flank_px > 0.0 {
                against(
                    &mut self.flank,
                    tooth.flank_mm,
                    tooth.flank_u_mm,
                    truth.flank_px,
                );
            }
            if truth.burr_px > 0.0 {
                self.burr
                    .push(px(tooth.burr_mm).unwrap_or(0.0) - truth.burr_px);
            }
            against(
                &mut self.tip,
                tooth.tip_loss_mm,
                tooth.tip_loss_u_mm,
                truth.tip_px,
            );
            against(
                &mut self.bend,
                tooth.bend_mm.map(f64::abs),
                tooth.bend_u_mm,
                truth.bend_px,
            );
        }
    }

    fn say(&mut self, name: &str) {
        println!(
            "{name}: {} photographs, {} refused",
            self.photographs,
            self.refused.len()
        );
        for (seed, why) in &self.refused {
            println!("  refused {seed}: {why}");
        }
        let quantile = |list: &mut Vec<f64>, part: f64| {
            list.sort_by(f64::total_cmp);
            list.get((part * (list.len() as f64 - 1.0)).max(0.0) as usize)
                .copied()
                .unwrap_or(f64::NAN)
        };
        for (what, list) in [
            ("tip", &mut self.tip),
            ("bend", &mut self.bend),
            ("flank", &mut self.flank),
            ("burr", &mut self.burr),
        ] {
            println!(
                "  {what}: median {:.3} px, 95 % {:.3} px, worst {:.3} px of {}",
                quantile(list, 0.5),
                quantile(list, 0.95),
                quantile(list, 1.0),
                list.len()
            );
        }
        println!(
            "  intervals hold {:.1} % of {}; sound {}, called worn {}, undecided {}; damaged {}, missed {}, undecided {}",
            100.0 * f64::from(self.covered.0) / f64::from(self.covered.1.max(1)),
            self.covered.1,
            self.sound,
            self.sound_called_worn,
            self.sound_undecided,
            self.damaged,
            self.missed,
            self.undecided
        );
    }
}

fn main() {
    let mut arguments = std::env::args()
        .skip(1)
        .map(|a| a.parse::<u64>().unwrap_or(0));
    let first = arguments.next().unwrap_or(1);
    let count = arguments.next().unwrap_or(12);
    for unkind in [false, true] {
        let mut tally = Tally::default();
        for seed in first..first + count {
            let scene = scene(seed, unkind);
            let Ok(shot) = scene.take() else {
                println!("{seed}: the part cannot be");
                continue;
            };
            tally.photographs += 1;
            let kind = if scene.part == ToothedPart::Rack {
                Kind::Rack
            } else {
                Kind::Gear
            };
            let mut options = Options::new(kind, Scale::PxPerMm(scene.px_per_mm));
            options.scale_rel_u = 0.0;
            match analyse(&shot.photograph, &options) {
                Ok(report) => tally.take(seed, &shot, &report),
                Err(error) => tally.refused.push((seed, error.to_string())),
            }
        }
        tally.say(if unkind { "unkind" } else { "kind" });
    }
}
