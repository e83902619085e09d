//! What is known of one camera.

use fettle_notes::{PartId, ServiceNotes};

use super::network::{CauseAt, Network, SignAt};

/// What has been observed, known, found and ruled out: yes, no, or not looked.
///
/// A sign is a fact about the camera at the moment of looking: what had been cured by then no longer shows.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Evidence {
    pub(crate) causes: Vec<Option<bool>>,
    pub(crate) signs: Vec<Option<bool>>,
    /// Faults cured so far.
    pub(crate) cured: Vec<CauseAt>,
    /// Which had been cured when each sign was looked for.
    pub(crate) cured_before: Vec<Vec<CauseAt>>,
}

/// A name that the notes do not know.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the service notes have no {what} `{id}`{}", .nearest.as_ref().map_or_else(String::new, |near| format!("; did you mean `{near}`?")))]
pub struct UnknownName {
    /// Sign, circumstance, fault or part.
    pub what: &'static str,
    /// The name as given.
    pub id: String,
    /// The known name most like it; `None` when none is.
    pub nearest: Option<String>,
}

impl UnknownName {
    /// The refusal, with the nearest of the known names.
    pub(crate) fn of<'n>(
        what: &'static str,
        id: &str,
        known: impl Iterator<Item = &'n str>,
    ) -> Self {
        let nearest = known
            .map(|name| (strsim::jaro_winkler(name, id), name))
            .filter(|(likeness, _)| *likeness > 0.75)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, name)| name.to_owned());
        Self {
            what,
            id: id.to_owned(),
            nearest,
        }
    }
}

/// Refuses a part that the notes do not know.
///
/// # Errors
/// When there is no such part.
pub fn known_part(notes: &ServiceNotes, part: &PartId) -> Result<(), UnknownName> {
    if notes.parts.contains(part) {
        return Ok(());
    }
    let known = notes.parts.ids().map(PartId::as_str);
    Err(UnknownName::of("part", part.as_str(), known))
}

impl Evidence {
    /// Nothing known yet.
    #[must_use]
    pub fn none(network: &Network) -> Self {
        Self {
            causes: vec![None; network.causes.len()],
            signs: vec![None; network.signs.len()],
            cured: Vec::new(),
            cured_before: vec![Vec::new(); network.signs.len()],
        }
    }

    /// A sign was looked for and is there or not.
    ///
    /// # Errors
    /// When the notes have no such sign.
    pub fn see(&mut self, network: &Network, sign: &str, there: bool) -> Result<(), UnknownName> {
        let known = || network.sign_names.iter().map(String::as_str);
        let at = network
            .sign(sign)
            .ok_or_else(|| UnknownName::of("sign", sign, known()))?;
        self.observe(at, there);
        Ok(())
    }

    /// A circumstance is known to hold or not.
    ///
    /// # Errors
    /// When the notes have no such circumstance.
    pub fn know(
        &mut self,
        network: &Network,
        circumstance: &str,
        holds: bool,
    ) -> Result<(), UnknownName> {
        let known = || {
            network.names[..network.circumstances]
                .iter()
                .map(String::as_str)
        };
        let at = network
            .circumstance(circumstance)
            .ok_or_else(|| UnknownName::of("circumstance", circumstance, known()))?;
        self.causes[at] = Some(holds);
        Ok(())
    }

    /// A fault was found or ruled out.
    ///
    /// # Errors
    /// When the notes have no such fault.
    pub fn find(&mut self, network: &Network, fault: &str, there: bool) -> Result<(), UnknownName> {
        self.causes[network.known_fault(fault)?] = Some(there);
        Ok(())
    }

    /// A fault was found and cured: signs looked for from here on do not show it.
    ///
    /// # Errors
    /// When the notes have no such fault.
    pub fn cure(&mut self, network: &Network, fault: &str) -> Result<(), UnknownName> {
        self.settle(network.known_fault(fault)?, true);
        Ok(())
    }

    pub(crate) fn observe(&mut self, sign: SignAt, there: bool) {
        self.signs[sign] = Some(there);
        self.cured_before[sign] = self.cured.clone();
    }

    /// Work on a fault showed whether it was there, and cured it.
    pub(crate) fn settle(&mut self, fault: CauseAt, there: bool) {
        self.causes[fault] = Some(there);
        if there && !self.cured.contains(&fault) {
            self.cured.push(fault);
            self.cured.sort_unstable();
        }
    }
}
