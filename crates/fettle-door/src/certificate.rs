//! The certificate that a bench shows to tablets: made by itself, once.

use std::net::IpAddr;

use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};
use rcgen::{
    CertificateParams, DistinguishedName, DnType, ExtendedKeyUsagePurpose, IsCa, KeyPair,
    KeyUsagePurpose, date_time_ymd,
};
use ring::digest::{SHA256, digest};
use serde::{Deserialize, Serialize};

use crate::error::DoorError;

/// How long it is good for. Browsers on tablets refuse more than 825 days, also of certificates that nobody else signed.
const GOOD_FOR_DAYS: i64 = 820;
/// It is made anew when less is left at the start of the program.
const ANEW_DAYS: i64 = 20;

/// A certificate with its key, as the door keeps them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Certificate {
    made: Timestamp,
    until: Timestamp,
    names: Vec<String>,
    certificate_pem: String,
    key_pem: String,
    fingerprint: String,
}

impl Certificate {
    /// Makes one for these names and addresses.
    pub(crate) fn make(names: &[String], now: Timestamp) -> Result<Self, DoorError> {
        let told = |error: rcgen::Error| DoorError::Certificate(error.to_string());
        let day = |timestamp: Timestamp| timestamp.to_zoned_datetime(TimeZone::UTC).date();
        let shift = |days: i64| {
            day(now)
                .checked_add(Span::new().days(days))
                .map_err(|error| DoorError::Certificate(error.to_string()))
        };
        let moment = |date: jiff::civil::Date| {
            let (month, day) = (date.month().unsigned_abs(), date.day().unsigned_abs());
            date_time_ymd(date.year().into(), month, day)
        };
        // A tablet's clock may be a day behind.
        let (from, until) = (shift(-1)?, shift(GOOD_FOR_DAYS)?);
        let mut params = CertificateParams::new(names.to_vec()).map_err(told)?;
        let mut called = DistinguishedName::new();
        called.push(DnType::CommonName, "Fettle bench");
        params.distinguished_name = called;
        params.not_before = moment(from);
        params.not_after = moment(until);
        params.is_ca = IsCa::ExplicitNoCa;
        params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        let key = KeyPair::generate().map_err(told)?;
        let made = params.self_signed(&key).map_err(told)?;
        let until = until
            .to_zoned_datetime(TimeZone::UTC)
            .map_err(|error| DoorError::Certificate(error.to_string()))?;
        Ok(Self {
            made: now,
            until: until.timestamp(),
            names: names.to_vec(),
            certificate_pem: made.pem(),
            key_pem: key.serialize_pem(),
            fingerprint: fingerprint(made.der()),
        })
    }

    /// Whether it can still be shown at the start of the program. It also goes on when this computer's addresses
    /// have changed: the browser asks once more, and the fingerprint is the one that is known.
    pub(crate) fn is_good(&self, now: Timestamp) -> bool {
        self.until.duration_since(now).as_hours() > ANEW_DAYS * 24
    }

    /// Until when it is good.
    #[must_use]
    pub fn until(&self) -> Timestamp {
        self.until
    }

    /// The certificate, PEM.
    #[must_use]
    pub fn certificate_pem(&self) -> &str {
        &self.certificate_pem
    }

    /// Its key, PEM. It does not leave the program.
    #[must_use]
    pub fn key_pem(&self) -> &str {
        &self.key_pem
    }

    /// SHA-256 of it, as browsers write it: pairs of hexadecimal digits with colons between.
    #[must_use]
    pub fn fingerprint(&self) -> &str {
        &self.fingerprint
    }

    /// Whether it was made for this address or name too.
    #[must_use]
    pub fn names(&self, address: IpAddr) -> bool {
        self.names.contains(&address.to_string())
    }
}

fn fingerprint(der: &[u8]) -> String {
    let pairs: Vec<String> = digest(&SHA256, der)
        .as_ref()
        .iter()
        .map(|byte| format!("{byte:02X}"))
        .collect();
    pairs.join(":")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn now() -> Timestamp {
        "2026-11-25T10:30:00Z".parse().unwrap()
    }

    #[test]
    fn it_names_what_it_was_made_for_and_has_a_fingerprint() {
        let names = ["localhost".to_owned(), "192.0.2.7".to_owned()];
        let made = Certificate::make(&names, now()).unwrap();
        assert!(made.names([192, 0, 2, 7].into()));
        assert!(!made.names([192, 0, 2, 8].into()));
        assert!(
            made.certificate_pem()
                .starts_with("-----BEGIN CERTIFICATE-----")
        );
        assert_eq!(made.fingerprint().len(), 32 * 3 - 1);
        assert_ne!(
            made.fingerprint(),
            Certificate::make(&names, now()).unwrap().fingerprint()
        );
    }

    #[test]
    fn a_fingerprint_is_sha_256_as_browsers_write_it() {
        // FIPS 180-4, the example of one block: "abc".
        assert!(fingerprint(b"abc").starts_with("BA:78:16:BF:8F:01:CF:EA:"));
    }

    #[test]
    fn it_is_good_for_less_than_825_days_and_made_anew_before_they_are_over() {
        let made = Certificate::make(&["localhost".to_owned()], now()).unwrap();
        let days = made.until().duration_since(now()).as_hours() / 24;
        assert!((815..824).contains(&days), "{days}");
        let later = |days: i64| now() + jiff::SignedDuration::from_hours(days * 24);
        assert!(made.is_good(later(790)));
        assert!(!made.is_good(later(805)));
    }

    #[test]
    fn names_that_no_certificate_can_have_are_an_error() {
        assert!(Certificate::make(&["bänk".to_owned()], now()).is_err());
    }
}
