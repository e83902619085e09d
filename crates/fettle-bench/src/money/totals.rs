//! Adding up: lines, the tax on them, and what is to be paid.

use std::collections::BTreeMap;

use rust_decimal::Decimal;
use serde::Serialize;

use super::Currency;

/// The tax of one rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct TaxLine {
    /// The rate, in percent.
    pub percent: Decimal,
    /// The sum of the lines that bear it.
    pub net: Decimal,
    /// The tax on that sum, in whole smallest coins.
    pub tax: Decimal,
}

/// Lines added up, with the tax on them.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Totals {
    /// The sum of the lines.
    pub net: Decimal,
    /// The tax by its rates, lowest first; a line without a rate bears none and stands in `net` alone.
    pub taxes: Vec<TaxLine>,
    /// The sum of the taxes.
    pub tax: Decimal,
    /// What is to be paid: lines and taxes.
    pub gross: Decimal,
}

impl Totals {
    /// Adds up amounts, each with its rate of tax in percent.
    ///
    /// The tax is reckoned once a rate, on the sum of the lines that bear it, and rounded to the currency's smallest coin, half a coin
    /// away from zero. Every figure is exact; `None` when exact decimals cannot hold one.
    ///
    /// # Example
    /// ```
    /// # use fettle_bench::{Currency, Decimal, Totals};
    /// let rate = Some(Decimal::new(19, 0));
    /// let lines = [(Decimal::new(1003, 2), rate), (Decimal::new(500, 2), rate)];
    /// let totals = Totals::of(lines, Currency::new("EUR").unwrap()).unwrap();
    /// // 15.03 at 19 % is 2.8557.
    /// assert_eq!(totals.tax, Decimal::new(286, 2));
    /// assert_eq!(totals.gross, Decimal::new(1789, 2));
    /// ```
    #[must_use]
    pub fn of(
        lines: impl IntoIterator<Item = (Decimal, Option<Decimal>)>,
        currency: Currency,
    ) -> Option<Self> {
        let nets = by_rate(lines)?;
        let taxes: Option<Vec<TaxLine>> = nets
            .iter()
            .filter_map(|(percent, net)| Some((percent.as_ref()?, net)))
            .map(|(percent, net)| {
                Some(TaxLine {
                    percent: *percent,
                    net: *net,
                    tax: tax_on(*net, *percent, currency)?,
                })
            })
            .collect();
        Self::from_parts(nets.values().copied(), taxes?)
    }

    /// The whole from the sums of the rates, those without tax too, and their taxes.
    pub(crate) fn from_parts(
        nets: impl IntoIterator<Item = Decimal>,
        taxes: Vec<TaxLine>,
    ) -> Option<Self> {
        let net = sum(nets)?;
        let tax = sum(taxes.iter().map(|line| line.tax))?;
        Some(Self {
            net,
            tax,
            gross: sum([net, tax])?,
            taxes,
        })
    }
}

/// The sums of the lines by their rate of tax; `None` when one cannot be held exactly.
pub(crate) fn by_rate(
    lines: impl IntoIterator<Item = (Decimal, Option<Decimal>)>,
) -> Option<BTreeMap<Option<Decimal>, Decimal>> {
    let mut nets = BTreeMap::new();
    for (amount, percent) in lines {
        let net = nets.entry(percent).or_insert(Decimal::ZERO);
        *net = sum([*net, amount])?;
    }
    Some(nets)
}

/// The exact sum; `None` when it has more digits than exact decimals hold. (Their own addition would round silently.)
pub(crate) fn sum(amounts: impl IntoIterator<Item = Decimal>) -> Option<Decimal> {
    amounts.into_iter().try_fold(Decimal::ZERO, |sum, amount| {
        let scale = sum.scale().max(amount.scale());
        let units = at_scale(sum, scale)?.checked_add(at_scale(amount, scale)?)?;
        Decimal::try_from_i128_with_scale(units, scale).ok()
    })
}

/// How many units of this scale it is.
fn at_scale(amount: Decimal, scale: u32) -> Option<i128> {
    let shift = 10_i128.checked_pow(scale.checked_sub(amount.scale())?)?;
    amount.mantissa().checked_mul(shift)
}

/// The tax on an amount, rounded to the smallest coin, half a coin away from zero; `None` when it cannot be reckoned exactly.
pub(crate) fn tax_on(net: Decimal, percent: Decimal, currency: Currency) -> Option<Decimal> {
    let (net, percent) = (net.normalize(), percent.normalize());
    let units = net.mantissa().checked_mul(percent.mantissa())?;
    // Percent are hundredths, two places more.
    let scale = net.scale() + percent.scale() + 2;
    let coins = match scale.checked_sub(currency.decimals()) {
        Some(too_fine) => half_away(units, 10_i128.checked_pow(too_fine)?),
        None => units.checked_mul(10_i128.checked_pow(currency.decimals() - scale)?)?,
    };
    Decimal::try_from_i128_with_scale(coins, currency.decimals()).ok()
}

/// The quotient rounded to a whole number, half away from zero.
fn half_away(number: i128, by: i128) -> i128 {
    let (whole, rest) = (number / by, number % by);
    if rest.unsigned_abs() >= by.unsigned_abs().div_ceil(2) {
        whole + rest.signum()
    } else {
        whole
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use rust_decimal::RoundingStrategy;

    use super::*;

    fn euro() -> Currency {
        Currency::new("EUR").unwrap()
    }

    fn decimal(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    #[test]
    fn half_a_coin_is_rounded_away_from_zero_and_less_is_not() {
        for (net, percent, currency, want) in [
            ("0.50", "1", "EUR", "0.01"),
            ("-0.50", "1", "EUR", "-0.01"),
            ("0.49", "1", "EUR", "0.00"),
            ("1.50", "1", "EUR", "0.02"),
            ("15", "10", "JPY", "2"),
            ("14", "10", "JPY", "1"),
            ("1.005", "10", "KWD", "0.101"),
            ("100", "8.875", "EUR", "8.88"),
            ("33.33", "0", "EUR", "0.00"),
            ("1", "1", "CLF", "0.0100"),
        ] {
            let currency = Currency::new(currency).unwrap();
            let tax = tax_on(decimal(net), decimal(percent), currency).unwrap();
            assert_eq!(tax.to_string(), want, "{net} at {percent} %");
        }
    }

    #[test]
    fn a_line_without_a_rate_bears_no_tax_and_one_at_zero_is_shown() {
        let lines = [
            (decimal("10"), None),
            (decimal("5"), Some(decimal("0"))),
            (decimal("1"), Some(decimal("19.0"))),
            (decimal("1"), Some(decimal("19"))),
        ];
        let totals = Totals::of(lines, euro()).unwrap();
        let rates: Vec<String> = totals
            .taxes
            .iter()
            .map(|it| format!("{} on {}: {}", it.percent.normalize(), it.net, it.tax))
            .collect();
        assert_eq!(rates, ["0 on 5: 0.00", "19 on 2: 0.38"]);
        assert_eq!(
            (totals.net, totals.gross),
            (decimal("17"), decimal("17.38"))
        );
    }

    #[test]
    fn what_exact_decimals_cannot_hold_is_no_figure() {
        let rate = Some(decimal("19"));
        assert_eq!(Totals::of([(Decimal::MAX, None); 2], euro()), None);
        assert_eq!(Totals::of([(Decimal::MAX, rate)], euro()), None);
        let fine = Decimal::new(1, 28);
        assert_eq!(sum([Decimal::MAX, fine]), None);
        assert_eq!(sum([Decimal::MAX, Decimal::ZERO]), Some(Decimal::MAX));
    }

    fn amounts() -> impl Strategy<Value = Vec<(Decimal, Option<Decimal>)>> {
        let rate = prop_oneof![
            Just(None),
            (0_i64..10_001, 0_u32..3)
                .prop_map(|(n, scale)| Some(Decimal::new(n.min(100 * 10_i64.pow(scale)), scale)))
        ];
        let amount = (-1_000_000_000_i64..1_000_000_000, 0_u32..4)
            .prop_map(|(n, scale)| Decimal::new(n, scale));
        proptest::collection::vec((amount, rate), 0..40)
    }

    proptest! {
        #[test]
        fn totals_are_the_sums_of_the_lines_shown(lines in amounts(), code in "EUR|JPY|KWD") {
            let currency = Currency::new(&code).unwrap();
            let totals = Totals::of(lines.iter().copied(), currency).unwrap();
            let net: Decimal = lines.iter().map(|(amount, _)| *amount).sum();
            prop_assert_eq!(totals.net, net);
            let tax: Decimal = totals.taxes.iter().map(|line| line.tax).sum();
            prop_assert_eq!(totals.tax, tax);
            prop_assert_eq!(totals.gross, net + tax);
            for line in &totals.taxes {
                let bearing = lines.iter().filter(|(_, percent)| *percent == Some(line.percent));
                let of_rate: Decimal = bearing.map(|(amount, _)| *amount).sum();
                prop_assert_eq!(line.net, of_rate);
                // The rule as its words say it, by the decimals' own rounding.
                let want = (of_rate * line.percent / Decimal::ONE_HUNDRED).round_dp_with_strategy(
                    currency.decimals(),
                    RoundingStrategy::MidpointAwayFromZero,
                );
                prop_assert_eq!(line.tax, want);
                prop_assert_eq!(line.tax % currency.coin(), Decimal::ZERO);
            }
        }

        #[test]
        fn the_order_of_the_lines_is_nothing_to_their_totals(lines in amounts()) {
            let totals = Totals::of(lines.iter().copied(), euro());
            let turned = Totals::of(lines.iter().rev().copied(), euro());
            prop_assert_eq!(totals, turned);
        }
    }
}
