//! Money: an exact decimal amount and its currency.

use std::{fmt, str::FromStr};

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// A currency by its three-letter code of ISO 4217, such as `EUR`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Currency([u8; 3]);

/// The text is not a currency code.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not a currency: write its three capital letters, such as EUR")]
pub struct NotACurrency(String);

impl Currency {
    /// Reads a code of three letters; small letters are taken as capitals.
    ///
    /// # Errors
    /// When the text is not three letters from A to Z.
    ///
    /// # Example
    /// ```
    /// # use fettle_bench::Currency;
    /// assert_eq!(Currency::new("eur").unwrap().as_str(), "EUR");
    /// assert!(Currency::new("euros").is_err());
    /// ```
    pub fn new(code: &str) -> Result<Self, NotACurrency> {
        match *code.trim().to_ascii_uppercase().as_bytes() {
            [a, b, c] if [a, b, c].iter().all(u8::is_ascii_uppercase) => Ok(Self([a, b, c])),
            _ => Err(NotACurrency(code.to_owned())),
        }
    }

    /// The three letters.
    #[must_use]
    pub fn as_str(&self) -> &str {
        // The bytes are capital letters by construction, so the fallback is never taken.
        std::str::from_utf8(&self.0).unwrap_or_default()
    }
}

impl FromStr for Currency {
    type Err = NotACurrency;

    fn from_str(code: &str) -> Result<Self, Self::Err> {
        Self::new(code)
    }
}

impl TryFrom<String> for Currency {
    type Error = NotACurrency;

    fn try_from(code: String) -> Result<Self, Self::Error> {
        Self::new(&code)
    }
}

impl From<Currency> for String {
    fn from(currency: Currency) -> Self {
        currency.as_str().to_owned()
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// An exact amount of one currency.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Money {
    /// How much; as text in JSON, so that no digit is lost.
    pub amount: Decimal,
    /// Of what.
    pub currency: Currency,
}

impl Money {
    /// This much of that currency.
    #[must_use]
    pub const fn new(amount: Decimal, currency: Currency) -> Self {
        Self { amount, currency }
    }
}

/// Writes `EUR 120.00`: at least two decimals, more when the amount has more.
impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut amount = self.amount.normalize();
        if amount.scale() < 2 {
            amount.rescale(2);
        }
        f.pad(&format!("{} {amount}", self.currency))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn money_is_written_with_at_least_two_decimals_and_loses_none() {
        let euro = Currency::new("EUR").unwrap();
        for (text, want) in [
            ("120", "EUR 120.00"),
            ("0.5", "EUR 0.50"),
            ("12.345", "EUR 12.345"),
            ("-3.10", "EUR -3.10"),
        ] {
            assert_eq!(Money::new(text.parse().unwrap(), euro).to_string(), want);
        }
    }

    #[test]
    fn money_keeps_its_digits_through_json() {
        let money = Money::new(
            "79228162514264337593543950.335".parse().unwrap(),
            Currency::new("XTS").unwrap(),
        );
        let json = serde_json::to_string(&money).unwrap();
        assert_eq!(
            json,
            r#"{"amount":"79228162514264337593543950.335","currency":"XTS"}"#
        );
        assert_eq!(serde_json::from_str::<Money>(&json).unwrap(), money);
    }

    #[test]
    fn a_currency_is_three_letters() {
        for bad in ["", "EU", "EURO", "€", "E R", "12A"] {
            assert!(Currency::new(bad).is_err(), "{bad:?} was taken");
        }
    }
}
