//! `fettle new`: an empty bench.

use std::io::Write;
use std::path::PathBuf;

use fettle_bench::{Bench, BenchError, BenchSettings, Currency, Decimal, Hand};
use jiff::Timestamp;

use crate::error::CliError;

/// Make an empty bench in a folder.
///
/// The folder is made if it is not there. It will hold everything: the record (bench.db), the
/// photographs, recordings and papers, and the service notes of each model in notes/. To move or
/// keep a bench, copy the folder.
///
///   fettle new my-bench --name "The bench at home" --place "Where it stands" --currency EUR
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The folder.
    dir: PathBuf,
    /// What the bench is called on its papers [default: the folder's name].
    #[arg(long)]
    name: Option<String>,
    /// The town where it stands.
    #[arg(long, default_value = "", hide_default_value = true)]
    place: String,
    /// Its address as papers print it; a new line where the text has one.
    #[arg(long, default_value = "", hide_default_value = true)]
    address: String,
    /// How to reach it as papers print it: telephone, mail.
    #[arg(long, default_value = "", hide_default_value = true)]
    contact: String,
    /// What it reckons in: three letters.
    #[arg(long, value_name = "CODE", default_value = "EUR")]
    currency: Currency,
    /// The price of an hour's work, in that currency.
    #[arg(long, value_name = "AMOUNT", value_parser = rate)]
    hourly_rate: Option<Decimal>,
    /// Who makes it: the name that stands in the journal.
    #[arg(long, value_name = "NAME", default_value = "bench", value_parser = super::serve::hand)]
    hand: String,
}

/// Makes the bench and says where it is and how to go on.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let folder = || {
        args.dir
            .file_name()
            .map(|name| name.to_string_lossy().into_owned())
    };
    let name = args
        .name
        .clone()
        .or_else(folder)
        .unwrap_or_else(|| "bench".to_owned());
    if name.trim().is_empty() {
        return Err(CliError::Arguments(
            "--name is empty: say what the bench is called".into(),
        ));
    }
    let settings = BenchSettings {
        place: args.place.clone(),
        address: args.address.clone(),
        contact: args.contact.clone(),
        hourly_rate: args.hourly_rate,
        ..BenchSettings::new(name, args.currency)
    };
    let hand = Hand::new(&args.hand);
    Bench::create(&args.dir, settings, &hand, Timestamp::now()).map_err(told)?;
    let dir = args.dir.display();
    writeln!(out, "made the bench in {dir}")?;
    writeln!(out, "open it with: fettle serve --bench {dir}")?;
    Ok(())
}

/// A setting that breaks a rule is a wrong argument; anything else is work that could not be done.
fn told(error: BenchError) -> CliError {
    match error {
        BenchError::Rule { field, why, .. } => {
            CliError::Arguments(format!("--{} {why}", field.replace('_', "-")))
        }
        other => CliError::work(other),
    }
}

/// An amount of money that an hour can cost.
fn rate(text: &str) -> Result<Decimal, String> {
    match text.parse::<Decimal>() {
        Ok(amount) if !amount.is_sign_negative() => Ok(amount),
        _ => Err("an amount is a number from 0 with a decimal point, such as 48 or 52.50".into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rate_is_an_amount_that_is_not_negative() {
        assert_eq!(
            rate("52.50").map(|amount| amount.to_string()),
            Ok("52.50".to_owned())
        );
        for bad in ["", "-1", "free", "1,5", "NaN"] {
            assert!(rate(bad).is_err(), "{bad}");
        }
    }
}
