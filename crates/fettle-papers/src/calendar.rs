//! Days to remember as a calendar file.

use jiff::civil::Date;
use jiff::{Timestamp, tz::TimeZone};

/// The longest line in octets, its end not counted (RFC 5545 §3.1).
const LINE_MAX: usize = 75;
/// The program that made the file (RFC 5545 §3.7.3).
const PRODUCT: &str = concat!("-//Fettle//Fettle ", env!("CARGO_PKG_VERSION"), "//EN");

/// A day to remember.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// Tells it from all others and stays the same when the file is made anew: `promised-57@bench.example`.
    pub uid: String,
    /// The day.
    pub on: Date,
    /// What it is.
    pub title: String,
    /// What is to be known of it, in lines; may be empty.
    pub words: String,
}

/// The events as an iCalendar file (RFC 5545): whole days that leave the day free for others. `made` is when the file is
/// made, which every event has to tell.
///
/// Equal events give equal text. Without events it is a calendar without any, which some programs refuse.
#[must_use]
pub fn calendar(events: &[Event], made: Timestamp) -> String {
    let mut file = String::new();
    line(&mut file, "BEGIN:VCALENDAR");
    line(&mut file, "VERSION:2.0");
    line(&mut file, &format!("PRODID:{PRODUCT}"));
    line(&mut file, "CALSCALE:GREGORIAN");
    let stamp = made
        .to_zoned_datetime(TimeZone::UTC)
        .strftime("%Y%m%dT%H%M%SZ")
        .to_string();
    for event in events {
        line(&mut file, "BEGIN:VEVENT");
        line(&mut file, &format!("UID:{}", escaped(&event.uid)));
        line(&mut file, &format!("DTSTAMP:{stamp}"));
        line(&mut file, &format!("DTSTART;VALUE=DATE:{}", day(event.on)));
        // The end is the first day that no longer belongs to it; the last day of all has none.
        if let Ok(next) = event.on.tomorrow() {
            line(&mut file, &format!("DTEND;VALUE=DATE:{}", day(next)));
        }
        line(&mut file, &format!("SUMMARY:{}", escaped(&event.title)));
        if !event.words.is_empty() {
            line(&mut file, &format!("DESCRIPTION:{}", escaped(&event.words)));
        }
        line(&mut file, "TRANSP:TRANSPARENT");
        line(&mut file, "END:VEVENT");
    }
    line(&mut file, "END:VCALENDAR");
    file
}

fn day(day: Date) -> String {
    day.strftime("%Y%m%d").to_string()
}

/// A text as RFC 5545 §3.3.11 writes it; controls other than line breaks and tabs are left out.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.replace("\r\n", "\n").chars() {
        match c {
            '\\' | ';' | ',' => {
                out.push('\\');
                out.push(c);
            }
            '\n' | '\r' => out.push_str("\\n"),
            '\t' => out.push(c),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

/// Adds a line, folded between characters so that no piece is longer than the rule allows.
fn line(file: &mut String, text: &str) {
    let mut octets = 0;
    for c in text.chars() {
        if octets + c.len_utf8() > LINE_MAX {
            file.push_str("\r\n ");
            octets = 1;
        }
        file.push(c);
        octets += c.len_utf8();
    }
    file.push_str("\r\n");
}
