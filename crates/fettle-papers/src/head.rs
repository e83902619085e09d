//! What the heads of the papers hold.

/// The bench as the head of a paper.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BenchHead {
    /// The bench's name.
    pub name: String,
    /// Where it is and how it is reached, a line an entry.
    pub lines: Vec<String>,
}

/// The owner as the head of a paper.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct OwnerHead {
    /// The owner's name.
    pub name: String,
    /// Postal address and the like, a line an entry; may be empty.
    pub lines: Vec<String>,
}

/// The camera as the head of a paper.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CameraHead {
    /// Its maker.
    pub maker: String,
    /// Its model, without the maker's name.
    pub model: String,
    /// Serial numbers with what bears them: (`body`, `20417`).
    pub serials: Vec<(String, String)>,
}

impl CameraHead {
    /// Maker and model in one.
    pub(crate) fn name(&self) -> String {
        format!("{} {}", self.maker, self.model).trim().to_owned()
    }
}

/// An amount of money.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Amount {
    /// The exact decimal with a point, as `1234.50`.
    pub amount: String,
    /// The currency's code (ISO 4217).
    pub currency: String,
}
