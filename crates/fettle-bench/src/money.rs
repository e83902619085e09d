//! Money: an exact decimal amount and its currency.

mod totals;

use std::{fmt, str::FromStr};

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

pub use self::totals::{TaxLine, Totals};
pub(crate) use self::totals::{by_rate, sum, tax_on};

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

    /// How many decimals its smallest coin has: the minor unit of ISO 4217, 2 for codes that have none.
    #[must_use]
    pub fn decimals(&self) -> u32 {
        match &self.0 {
            b"BIF" | b"CLP" | b"DJF" | b"GNF" | b"ISK" | b"JPY" | b"KMF" | b"KRW" | b"PYG"
            | b"RWF" | b"UGX" | b"UYI" | b"VND" | b"VUV" | b"XAF" | b"XOF" | b"XPF" => 0,
            b"BHD" | b"IQD" | b"JOD" | b"KWD" | b"LYD" | b"OMR" | b"TND" => 3,
            b"CLF" | b"UYW" => 4,
            _ => 2,
        }
    }

    /// The smallest coin: 0.01 of most.
    #[must_use]
    pub fn coin(&self) -> Decimal {
        Decimal::new(1, self.decimals())
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

/// Writes `EUR 120.00`: at least the currency's decimals, more when the amount has more.
impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let amount = written(self.amount, self.currency);
        f.pad(&format!("{} {amount}", self.currency))
    }
}

/// An amount without its currency: at least the currency's decimals, more when it has more.
#[must_use]
pub fn written(amount: Decimal, currency: Currency) -> String {
    let mut amount = amount.normalize();
    if amount.scale() < currency.decimals() {
        amount.rescale(currency.decimals());
    }
    amount.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn money_is_written_with_at_least_the_currency_s_decimals_and_loses_none() {
        for (text, currency, want) in [
            ("120", "EUR", "EUR 120.00"),
            ("0.5", "EUR", "EUR 0.50"),
            ("12.345", "EUR", "EUR 12.345"),
            ("-3.10", "EUR", "EUR -3.10"),
            ("1200", "JPY", "JPY 1200"),
            ("12.5", "KWD", "KWD 12.500"),
        ] {
            let currency = Currency::new(currency).unwrap();
            let money = Money::new(text.parse().unwrap(), currency);
            assert_eq!(money.to_string(), want);
        }
    }

    #[test]
    fn the_smallest_coin_is_the_one_of_iso_4217() {
        for (code, coin) in [
            ("EUR", "0.01"),
            ("XTS", "0.01"),
            ("JPY", "1"),
            ("KRW", "1"),
            ("KWD", "0.001"),
            ("BHD", "0.001"),
            ("OMR", "0.001"),
            ("CLF", "0.0001"),
        ] {
            assert_eq!(Currency::new(code).unwrap().coin().to_string(), coin);
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
