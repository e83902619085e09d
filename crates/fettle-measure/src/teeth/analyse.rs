//! From a photograph to a report.

use super::border::{Border, Borders};
use super::frame::median;
use super::levels::Levels;
use super::look::{self, Look};
use super::measured::Measured;
use super::{Finding, Kind, Options, Report, TeethError};
use crate::photograph::Photograph;

/// Pixels between a quarter and three quarters beyond this part are no edges any more.
const MOST_GREY: f64 = 0.15;
/// Beyond this part of the part's area, grey that is no edge is shine, and beyond the other nothing can be measured.
const SHINE: f64 = 0.02;
const MOST_SHINE: f64 = 0.3;
/// This many spreads of the edge and this many pixels to either side it is dark and bright; a tooth with more of its flanks unclear is not judged worn.
const CLEAR_SPREADS: f64 = 2.5;
const CLEAR_PX: f64 = 3.0;
/// A part whose light varies by more than this part of the ground's is not black.
const MOST_TEXTURE: f64 = 0.1;
/// A smaller part of the part's area is no hole that was made in it.
const LEAST_HOLE: f64 = 0.002;
/// A part takes at least this share of the photograph.
const LEAST_PART: f64 = 0.003;
/// Edges that spread over more than this part of the pitch tell no form; over more than the other it is said.
const MOST_BLUR: f64 = 0.09;
const SOFT: f64 = 0.03;
const SOFT_PX: f64 = 2.5;
/// Where no teeth are found and edges spread over more, blur hides them.
const SOFTEST_PX: f64 = 10.0;
/// Fewer pixels from tooth to tooth are said.
const FEW_PX: f64 = 40.0;
/// Unevenness of the light that is said.
const UNEVEN: f64 = 1.6;
const TOO_BRIGHT: f64 = 0.02;

/// Measures the teeth.
///
/// # Errors
/// [`TeethError`] for options without meaning, a photograph that cannot carry a result, with how to take a better one, and a count or scale that
/// the photograph contradicts.
pub fn analyse(photo: &Photograph, options: &Options) -> Result<Report, TeethError> {
    options.check()?;
    let size = (photo.width(), photo.height());
    let levels = Levels::of(photo)?;
    let borders = Borders::of(photo, &levels)?;
    let (border, look) = find_part(&borders, options, size)?;
    let blur = blur(photo, &levels, border);
    let soft = |pitch_px: f64| blur > MOST_BLUR * pitch_px;
    let shine = shine(&borders, border, blur, size);
    let lit = TeethError::FrontLit {
        texture: borders.texture,
    };
    let is_lit = shine > MOST_SHINE || borders.grey > MOST_GREY || borders.texture > MOST_TEXTURE;
    let look = match look {
        Ok(look) => look,
        // What hides the teeth is told first.
        Err(_) if is_lit => {
            return Err(lit);
        }
        Err(_) if blur > SOFTEST_PX => {
            return Err(TeethError::Blurred {
                blur_px: blur,
                pitch_px: None,
            });
        }
        Err(error) => return Err(error),
    };
    if soft(look.pitch) {
        return Err(TeethError::Blurred {
            blur_px: blur,
            pitch_px: Some(look.pitch),
        });
    }
    if is_lit {
        return Err(lit);
    }
    let clear = border.clear(photo, &levels, CLEAR_SPREADS * blur + CLEAR_PX);
    let measured = Measured::new(border, &clear, look, blur)?;
    let scale = measured.scale(&borders, border, options)?;
    measured.check_count(options)?;
    let mut report = measured.report(options, scale, size);
    note_photograph(&mut report, &borders, &levels, shine);
    Ok(report)
}

/// The border that has teeth: one of the largest.
fn find_part<'a>(
    borders: &'a Borders,
    options: &Options,
    size: (usize, usize),
) -> Result<(&'a Border, Result<Look, TeethError>), TeethError> {
    let all = (size.0 * size.1) as f64;
    let largest = borders
        .kept
        .iter()
        .find(|b| b.area > 0.0)
        .ok_or(TeethError::NoSilhouette)?;
    if largest.area < LEAST_PART * all {
        return Err(TeethError::NoSilhouette);
    }
    let rim = 2 * (size.0 + size.1);
    if largest.at_edge.iter().sum::<usize>() * 2 > rim {
        return Err(TeethError::Reversed);
    }
    let least = (0.1 * largest.area).max(LEAST_PART * all);
    let mut first = None;
    for border in borders.kept.iter().filter(|b| b.area >= least).take(4) {
        let look = match options.kind {
            Kind::Rack => look::rack(border, size),
            Kind::Gear => look::gear(border, size),
        };
        if look.is_ok() {
            return Ok((border, look));
        }
        first.get_or_insert((border, look));
    }
    first.ok_or(TeethError::NoSilhouette)
}

/// Standard deviation of the edge's spread: the median way from a quarter to three quarters of the local levels, over 1.349.
fn blur(photo: &Photograph, levels: &Levels, border: &Border) -> f64 {
    const FARTHEST: f64 = 60.0;
    const STEP: f64 = 0.5;
    let every = border.points.len().div_ceil(400).max(1);
    let spreads: Vec<f64> = border
        .points
        .iter()
        .zip(&border.normals)
        .step_by(every)
        .map(|(p, n)| {
            let (dark, bright) = levels.at(p[0], p[1]);
            let part =
                |t: f64| (photo.between(p[0] + t * n[0], p[1] + t * n[1]) - dark) / (bright - dark);
            let way = |hand: f64, level: f64| {
                let mut before = part(0.0);
                let mut t = STEP;
                while t < FARTHEST {
                    let now = part(hand * t);
                    if (now - level) * hand >= 0.0 {
                        let step = (level - before) / (now - before);
                        return t - STEP
                            + STEP
                                * if step.is_finite() {
                                    step.clamp(0.0, 1.0)
                                } else {
                                    1.0
                                };
                    }
                    before = now;
                    t += STEP;
                }
                FARTHEST
            };
            (way(1.0, 0.75) + way(-1.0, 0.25)) / 1.349
        })
        .collect();
    median(&spreads).unwrap_or(FARTHEST)
}

/// Grey beyond what the edges make, as a part of the part's area.
fn shine(borders: &Borders, border: &Border, blur: f64, size: (usize, usize)) -> f64 {
    // The part's own outline, its holes, and what lies beside it; small holes are where it shines.
    let is_edge = |b: &&Border| b.area > 0.0 || -b.area > LEAST_HOLE * border.area;
    let edges: usize = borders
        .kept
        .iter()
        .filter(is_edge)
        .map(|b| b.points.len())
        .sum();
    // A crack stands for 0.8 pixels of edge, on the average over directions.
    let expected = 0.8 * edges as f64 * (1.349 * blur).max(1.0);
    let grey = borders.grey * (size.0 * size.1) as f64;
    (grey - 1.1 * expected).max(0.0) / border.area.max(1.0)
}

/// What the photograph gives to notice.
fn note_photograph(report: &mut Report, borders: &Borders, levels: &Levels, shine: f64) {
    let mut findings = Vec::new();
    if report.blur_px > SOFT_PX || report.blur_px > SOFT * report.pitch_px {
        findings.push(Finding::Blurred {
            blur_px: report.blur_px,
        });
    }
    if report.pitch_px < FEW_PX {
        findings.push(Finding::FewPixels {
            pitch_px: report.pitch_px,
        });
    }
    if levels.too_bright > TOO_BRIGHT {
        findings.push(Finding::TooBright {
            share: levels.too_bright,
        });
    }
    if levels.unevenness > UNEVEN {
        findings.push(Finding::UnevenLight {
            ratio: levels.unevenness,
        });
    }
    if shine > SHINE {
        findings.push(Finding::Shine { share: shine });
    }
    if borders.specks > 0 {
        findings.push(Finding::Specks {
            count: borders.specks,
        });
    }
    report.findings.extend(findings);
}
