//! What a rangefinder is held to.

use serde::{Deserialize, Serialize};

use crate::OptionError;
use crate::focus::{Depth, Lens};

/// Base times magnification that weighs the readings when the finder's is not given; only its order of size matters.
const COMMON_BASE_MM: f64 = 30.0;
const ARCSEC_PER_RAD: f64 = 206_264.806_247_096_36;

/// What one adjuster does, from the service notes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Adjuster {
    /// As the service notes call it.
    pub name: String,
    /// What a turn adds to `infinity_mm`.
    pub infinity_mm_per_turn: f64,
    /// What a turn adds to `rate`.
    pub rate_per_turn: f64,
}

/// The lens, the finder, and what is asked of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Options {
    /// The lens's focal length.
    pub focal_mm: f64,
    /// The separation of its principal planes.
    pub nodal_mm: f64,
    /// Its largest opening, where the finder must be good enough.
    pub f: f64,
    /// The circle of confusion.
    pub coc_mm: f64,
    /// How many depths `N c` it may be off at any distance.
    pub limit_depths: f64,
    /// The finder's base; without it nothing is said about angles.
    pub base_mm: Option<f64>,
    /// The finder's magnification.
    pub magnification: f64,
    /// How finely the eye sets coincidence: about 60 seconds of arc superimposed, 10 to 20 split.
    pub eye_arcsec: f64,
    /// Standard deviation of a taped distance: a fixed part.
    pub tape_mm: f64,
    /// Standard deviation of a taped distance: a part of the distance itself.
    pub tape_part: f64,
    /// By how much the images may stand above one another.
    pub vertical_limit_arcmin: f64,
    /// Readings of that beside those of the run.
    pub vertical_arcmin: Vec<f64>,
    /// The nearest distance on the lens's scale; the nearest reading when not given.
    pub nearest_m: Option<f64>,
    /// The adjusters with their effects, at most two; without them no turns are told.
    pub adjusters: Vec<Adjuster>,
}

impl Options {
    /// A lens of `focal_mm` at `f` with the circle of confusion `coc_mm`: one depth allowed, an eye of 60 seconds of arc, a tape good to
    /// 1 mm and a thousandth, 5 minutes of arc allowed upright (the bench's rule, not a standard).
    #[must_use]
    pub const fn new(focal_mm: f64, f: f64, coc_mm: f64) -> Self {
        Self {
            focal_mm,
            nodal_mm: 0.0,
            f,
            coc_mm,
            limit_depths: 1.0,
            base_mm: None,
            magnification: 1.0,
            eye_arcsec: 60.0,
            tape_mm: 1.0,
            tape_part: 0.001,
            vertical_limit_arcmin: 5.0,
            vertical_arcmin: Vec::new(),
            nearest_m: None,
            adjusters: Vec::new(),
        }
    }

    /// Refuses what has no meaning.
    ///
    /// # Errors
    /// [`OptionError`] that names the command line's argument.
    pub fn check(&self) -> Result<(), OptionError> {
        let lens = self.lens()?;
        self.depth()?;
        let check = OptionError::check;
        check("--limit-depths", self.limit_depths, 0.01..=100.0, " depths")?;
        if let Some(mm) = self.base_mm {
            check("--base-mm", mm, 2.0..=1000.0, " mm")?;
        }
        check("--magnification", self.magnification, 0.1..=10.0, "")?;
        check(
            "--eye-arcsec",
            self.eye_arcsec,
            1.0..=600.0,
            " seconds of arc",
        )?;
        check("--tape-mm", self.tape_mm, 0.0..=100.0, " mm")?;
        check("--tape-part", self.tape_part, 0.0..=0.1, " of the distance")?;
        check(
            "--vertical-limit-arcmin",
            self.vertical_limit_arcmin,
            0.01..=120.0,
            " minutes of arc",
        )?;
        for arcmin in &self.vertical_arcmin {
            check(
                "--vertical-arcmin",
                *arcmin,
                -300.0..=300.0,
                " minutes of arc",
            )?;
        }
        if let Some(m) = self.nearest_m {
            check("--nearest-m", m, lens.nearest_mm() / 1000.0..=20.0, " m")?;
        }
        self.check_adjusters()
    }

    fn check_adjusters(&self) -> Result<(), OptionError> {
        let option = "--adjuster";
        OptionError::check(option, self.adjusters.len() as f64, 0.0..=2.0, " adjusters")?;
        for adjuster in &self.adjusters {
            OptionError::check(
                option,
                adjuster.infinity_mm_per_turn,
                -100.0..=100.0,
                " mm a turn",
            )?;
            OptionError::check(option, adjuster.rate_per_turn, -100.0..=100.0, " a turn")?;
        }
        let refuse = |reason: &str| {
            Err(OptionError {
                option,
                reason: reason.to_owned(),
            })
        };
        match self.adjusters.as_slice() {
            [one] if one.infinity_mm_per_turn.hypot(one.rate_per_turn) < 1e-9 => {
                refuse("it moves nothing: give what a turn adds to infinity_mm or to rate")
            }
            [one, other] => {
                let across = one.infinity_mm_per_turn * other.rate_per_turn
                    - one.rate_per_turn * other.infinity_mm_per_turn;
                let (a, b) = (
                    one.infinity_mm_per_turn.hypot(one.rate_per_turn),
                    other.infinity_mm_per_turn.hypot(other.rate_per_turn),
                );
                if across.abs() <= 1e-6 * a * b || a * b < 1e-12 {
                    refuse(
                        "both do the same, so they cannot set infinity and the rate: check their effects",
                    )
                } else {
                    Ok(())
                }
            }
            _ => Ok(()),
        }
    }

    /// The lens.
    ///
    /// # Errors
    /// [`OptionError`] when there is no such lens.
    pub fn lens(&self) -> Result<Lens, OptionError> {
        Lens::new(self.focal_mm, self.nodal_mm)
    }

    /// The depth `N c`.
    ///
    /// # Errors
    /// [`OptionError`] when there is no such opening.
    pub fn depth(&self) -> Result<Depth, OptionError> {
        Depth::new(self.f, self.coc_mm)
    }

    /// The angle that the eye sets coincidence to, through the finder's magnification, in its base's parallax.
    fn eye_rad_per_base_mm(&self) -> f64 {
        let base = self
            .base_mm
            .map_or(COMMON_BASE_MM, |b| b * self.magnification);
        self.eye_arcsec / ARCSEC_PER_RAD / base
    }

    /// How finely the eye can set the extension at a distance, in mm: `ΔD = D² α/(b M)` by the slope of the lens's conjugates.
    pub(super) fn eye_mm(&self, lens: &Lens, distance_mm: f64) -> f64 {
        let along = if distance_mm == f64::INFINITY {
            lens.focal_mm() * lens.focal_mm()
        } else {
            distance_mm * distance_mm * lens.slope(distance_mm).unwrap_or(0.0)
        };
        self.eye_rad_per_base_mm() * along
    }

    /// Standard deviation of an extension read at a distance: the eye's, and the tape's by the slope of the conjugates.
    ///
    /// The eye's is taken as at infinity, as for large `D`: nearer it is some tenth more, but a run whose scatter is the same at all distances would
    /// then count for surer at infinity than it is.
    pub(super) fn reading_sd_mm(&self, lens: &Lens, distance_mm: f64) -> f64 {
        let tape = if distance_mm == f64::INFINITY {
            0.0
        } else {
            self.tape_mm.hypot(self.tape_part * distance_mm)
                * lens.slope(distance_mm).unwrap_or(0.0)
        };
        self.eye_mm(lens, f64::INFINITY).hypot(tape)
    }
}
