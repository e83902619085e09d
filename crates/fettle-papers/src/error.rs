//! Why a paper could not be made.

use typst::diag::SourceDiagnostic;

/// A paper could not be made. Nothing a record holds should cause this; it is a fault of the paper's template.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PaperError {
    /// The paper's contents could not be handed to its template.
    #[error("the contents of the paper cannot be written as JSON: {0}")]
    Contents(String),
    /// The typesetter refused the template with these contents.
    #[error("the paper cannot be typeset: {}", .0.join("; "))]
    Typeset(Vec<String>),
    /// The pages stand but break a rule of PDF/A-2b.
    #[error("the paper cannot be written as PDF/A-2b: {}", .0.join("; "))]
    Pdf(Vec<String>),
}

/// Each message with its hints, one text a fault.
pub(crate) fn messages(faults: &[SourceDiagnostic]) -> Vec<String> {
    faults
        .iter()
        .map(|fault| {
            let hints = fault.hints.iter().map(|hint| format!(" ({})", hint.v));
            fault.message.to_string() + &hints.collect::<String>()
        })
        .collect()
}
