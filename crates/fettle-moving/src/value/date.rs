//! Days as people write them.

use jiff::civil::Date;

use super::{DateOrder, Unfit};

/// The first year in which a camera can have come to a bench.
const FIRST_YEAR: i16 = 1900;

/// Names of months begin with these, in English and German.
const MONTHS: [&[&str]; 12] = [
    &["jan", "jän"],
    &["feb"],
    &["mar", "mär", "mrz", "maer"],
    &["apr"],
    &["may", "mai"],
    &["jun"],
    &["jul"],
    &["aug"],
    &["sep"],
    &["oct", "okt"],
    &["nov"],
    &["dec", "dez"],
];

/// Reads a day: ISO 8601 (`2024-03-05`, also with a time behind it), day-month-year with points or slashes, or with the month's
/// name. Points stand for day-month-year wherever they are used; of slashes and dashes only what can be one day alone is read unless
/// the order is told. Years of two digits are of this century unless that lies after `today`.
pub(crate) fn day(cell: &str, order: Option<DateOrder>, today: Date) -> Result<Date, Unfit> {
    let day = read(cell, order, today)?;
    if day.year() < FIRST_YEAR {
        return Err(Unfit::new(
            format!("lies before {FIRST_YEAR}"),
            "write the year with four digits",
        ));
    }
    Ok(day)
}

fn read(cell: &str, order: Option<DateOrder>, today: Date) -> Result<Date, Unfit> {
    let text = without_time(cell);
    if let Some(named) = with_name(text, today) {
        return named;
    }
    let numbers: Option<Vec<Figure>> = text.split(['-', '/', '.']).map(Figure::read).collect();
    let Some([a, b, c]) = numbers.as_deref() else {
        let serial = text
            .parse::<u32>()
            .is_ok_and(|days| (20_000..80_000).contains(&days));
        return Err(if serial {
            Unfit::new(
                "is a spreadsheet's count of days",
                "format the column as a date before saving it, best as 2024-03-05",
            )
        } else {
            no_day()
        });
    };
    if a.digits == 4 {
        return made(a.value, b.value, c.value);
    }
    let year = year(*c, text.contains('-'), today)?;
    // With points the day stands first wherever they are used.
    let order = order.or(text.contains('.').then_some(DateOrder::Dmy));
    let (dmy, mdy) = (made(year, b.value, a.value), made(year, a.value, b.value));
    match (order, dmy, mdy) {
        (Some(DateOrder::Dmy), day, _) | (Some(DateOrder::Mdy), _, day) => day,
        (None, Ok(day), Ok(other)) if day == other => Ok(day),
        (None, Ok(day), Ok(other)) => Err(Unfit::new(
            format!("can be {day} and {other}"),
            "say how days are written with --dates dmy or --dates mdy",
        )),
        (None, Ok(day), Err(_)) | (None, Err(_), Ok(day)) => Ok(day),
        (None, Err(unfit), Err(_)) => Err(unfit),
    }
}

/// `2024-03-05T12:00`, `05.03.2024 12:00`: the time is left out.
fn without_time(cell: &str) -> &str {
    let text = cell.trim();
    let Some(colon) = text.find(':') else {
        return text;
    };
    let before = text.get(..colon).unwrap_or(text);
    before
        .rfind(['T', ' ', ','])
        .and_then(|cut| before.get(..cut))
        .map_or(text, |date| date.trim_end_matches([',', ' ']))
}

#[derive(Clone, Copy)]
struct Figure {
    value: i16,
    digits: usize,
}

impl Figure {
    fn read(text: &str) -> Option<Self> {
        let text = text.trim();
        let digits = text.len();
        let fits = (1..=4).contains(&digits) && text.bytes().all(|byte| byte.is_ascii_digit());
        fits.then(|| text.parse().ok())
            .flatten()
            .map(|value| Self { value, digits })
    }
}

fn year(figure: Figure, dashes: bool, today: Date) -> Result<i16, Unfit> {
    match figure.digits {
        4 => Ok(figure.value),
        // `24-03-05` has its year in front or behind.
        2 if !dashes => {
            let here = 2000 + figure.value;
            let later = here > today.year().saturating_add(1);
            Ok(if later { here - 100 } else { here })
        }
        2 => Err(Unfit::new(
            "may have its year in front or behind",
            "write the year with four digits",
        )),
        _ => Err(no_day()),
    }
}

/// `5 March 2024`, `5. März 2024`, `March 5, 2024`; `None` when there is no name of a month.
fn with_name(text: &str, today: Date) -> Option<Result<Date, Unfit>> {
    let words: Vec<&str> = text
        .split([' ', ',', '-', '/', '.', '\u{A0}'])
        .filter(|word| !word.is_empty())
        .collect();
    let names = words
        .iter()
        .position(|word| word.chars().all(char::is_alphabetic))?;
    let name = words.get(names)?.to_lowercase();
    let begins = |starts: &&[&str]| starts.iter().any(|start| name.starts_with(start));
    let month = MONTHS.iter().position(begins)? + 1;
    let month = i16::try_from(month).ok()?;
    let figure = |at: usize| words.get(at).and_then(|word| Figure::read(word));
    let (day, last) = match (words.len(), names) {
        (3, 1) => (figure(0), figure(2)),
        (3, 0) => (figure(1), figure(2)),
        _ => (None, None),
    };
    Some(match day.zip(last) {
        Some((day, last)) => year(last, false, today).and_then(|year| made(year, month, day.value)),
        None => Err(no_day()),
    })
}

fn made(year: i16, month: i16, day: i16) -> Result<Date, Unfit> {
    let parts = i8::try_from(month).ok().zip(i8::try_from(day).ok());
    parts
        .and_then(|(month, day)| Date::new(year, month, day).ok())
        .ok_or_else(|| {
            Unfit::new(
                "is a day that no calendar has",
                "correct it, best as 2024-03-05",
            )
        })
}

fn no_day() -> Unfit {
    Unfit::new("is not a day", "write it as 2024-03-05 or 5.3.2024")
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn today() -> Date {
        jiff::civil::date(2026, 11, 25)
    }

    fn read_as(cell: &str, order: Option<DateOrder>) -> Result<String, String> {
        day(cell, order, today())
            .map(|day| day.to_string())
            .map_err(|unfit| unfit.why)
    }

    #[test]
    fn a_day_is_read_however_it_is_written() {
        for cell in [
            "2024-03-05",
            "2024/3/5",
            "2024-03-05T12:30:00",
            "2024-03-05 00:00",
            "5.3.2024",
            "05.03.24",
            "05.03.2024 08:15",
            "5 March 2024",
            "5. März 2024",
            "Mar 5, 2024",
            "5-Mar-24",
            "5. Maerz 2024",
        ] {
            assert_eq!(read_as(cell, None).as_deref(), Ok("2024-03-05"), "{cell}");
        }
        assert_eq!(read_as("25/12/98", None).as_deref(), Ok("1998-12-25"));
        assert_eq!(read_as("12/25/2022", None).as_deref(), Ok("2022-12-25"));
        assert_eq!(read_as("05/05/2022", None).as_deref(), Ok("2022-05-05"));
    }

    #[test]
    fn what_can_be_two_days_is_refused_until_the_order_is_told() {
        let cell = "03/04/2023";
        assert_eq!(
            read_as(cell, None).unwrap_err(),
            "can be 2023-04-03 and 2023-03-04"
        );
        assert_eq!(
            read_as(cell, Some(DateOrder::Dmy)).as_deref(),
            Ok("2023-04-03")
        );
        assert_eq!(
            read_as(cell, Some(DateOrder::Mdy)).as_deref(),
            Ok("2023-03-04")
        );
        assert_eq!(
            read_as("25/12/2023", Some(DateOrder::Mdy)).unwrap_err(),
            "is a day that no calendar has"
        );
    }

    #[test]
    fn what_is_no_day_is_refused_with_the_reason() {
        for (cell, why) in [
            ("soon", "is not a day"),
            ("2024-02-30", "is a day that no calendar has"),
            ("45356", "is a spreadsheet's count of days"),
            ("24-03-05", "may have its year in front or behind"),
            ("5.3.1024", "lies before 1900"),
            ("2024-03", "is not a day"),
            ("March", "is not a day"),
            ("1.2.3.4", "is not a day"),
            ("0/0/2024", "is a day that no calendar has"),
        ] {
            assert_eq!(read_as(cell, None).unwrap_err(), why, "{cell}");
        }
    }

    proptest! {
        #[test]
        fn every_day_comes_back_in_each_way_of_writing(year in 1900_i16..2100, month in 1_i8..13, of_month in 1_i8..29) {
            let want = Date::new(year, month, of_month).unwrap();
            for (cell, order) in [
                (want.to_string(), None),
                (format!("{of_month}.{month}.{year}"), None),
                (format!("{of_month}/{month}/{year}"), Some(DateOrder::Dmy)),
                (format!("{month}/{of_month}/{year}"), Some(DateOrder::Mdy)),
            ] {
                prop_assert_eq!(day(&cell, order, today()), Ok(want));
            }
        }

        #[test]
        fn no_cell_makes_it_stumble(cell in any::<String>()) {
            let _ = day(&cell, None, today());
            let _ = day(&cell, Some(DateOrder::Mdy), today());
        }
    }
}
