//! What is wrong, why, and what to look at next.
//!
//! [`Network`] and [`Evidence`] are what is asked about, [`diagnose`] answers, [`weigh`] says why. Within: `order` and
//! `eliminate` lay out the sum over all causes and `tape` runs it; `belief` and `mind` ask it what one more answer would change; `task` holds what looks, works
//! and openings cost, `standing` what the camera costs without another look, `advise` looks ahead from there; `sample` stands in
//! where a network is too tangled for the sum. [`trial`] tells what it all comes to, on cameras drawn from the network.

mod advise;
mod belief;
mod bif;
mod diagnose;
mod eliminate;
mod evidence;
#[cfg(test)]
mod fixture;
mod learn;
mod mind;
mod network;
#[cfg(test)]
mod optimum;
mod order;
mod plan;
mod sample;
mod standing;
mod tape;
mod task;
mod traced;
pub mod trial;
mod why;

pub use bif::bif;
pub use diagnose::{
    ComesBack, Diagnosis, Finding, Next, NextLook, NextWork, NoDiagnosis, Question, Suspect,
    Weighed, diagnose, suspects, weigh,
};
pub use evidence::{Evidence, UnknownName, known_part};
pub use learn::{Learned, Lesson, Missed, learn};
pub use network::Network;
pub use plan::{Branch, Plan};
pub use task::COMING_BACK_MINUTES;
