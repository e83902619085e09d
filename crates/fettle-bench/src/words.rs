//! The fixed words of the record: stages, answers, grades, verdicts.

use std::fmt;

use serde::{Deserialize, Serialize};

macro_rules! words {
    ($($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $text:literal,)* })*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $name {
            $($(#[$vdoc])* #[serde(rename = $text)] $variant,)*
        }

        impl $name {
            /// Every word of this kind, in order.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The word as stored and as used in forms.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $text,)* }
            }

            /// The word with this stored form, if there is one.
            #[must_use]
            pub fn from_text(text: &str) -> Option<Self> {
                match text { $($text => Some(Self::$variant),)* _ => None }
            }
        }

        /// Writes the words as people read them: `looked over`.
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(&self.as_str().replace('-', " "))
            }
        }
    )*};
}

words! {
    /// Where a visit stands.
    Stage {
        /// It is here; nothing has been tried yet.
        Arrived = "arrived",
        /// Every function has been tried.
        LookedOver = "looked-over",
        /// The owner has been told the price.
        Quoted = "quoted",
        /// The owner agreed.
        Agreed = "agreed",
        /// It lies apart on the bench.
        Apart = "apart",
        /// It is together again.
        Together = "together",
        /// It has been measured against its limits.
        Proved = "proved",
        /// It is packed.
        Packed = "packed",
        /// It is on its way home, or there.
        Home = "home",
        /// It goes back without having been repaired.
        ReturnedUnrepaired = "returned-unrepaired",
    }

    /// What a visit waits for.
    WaitFor {
        /// The owner's answer.
        Answer = "answer",
        /// A part.
        Part = "part",
        /// The post.
        Post = "post",
    }

    /// The answer to a question asked of the camera or of its owner.
    Seen {
        /// Yes.
        Yes = "yes",
        /// No.
        No = "no",
        /// Not looked at, or not known.
        NotLooked = "not-looked",
    }

    /// What broke is rarely the cause.
    FaultIs {
        /// What broke.
        Damage = "damage",
        /// What made it break.
        Cause = "cause",
    }

    /// How sure one is of a fault.
    Found {
        /// Seen.
        Found = "found",
        /// Looked for and not there.
        RuledOut = "ruled-out",
        /// Thought likely.
        Suspected = "suspected",
    }

    /// Which of the ways open to the owner a quote is for.
    #[derive(Default)]
    QuoteKind {
        /// What was complained of is repaired.
        #[default]
        Repair = "repair",
        /// Everything is gone through.
        Overhaul = "overhaul",
        /// It goes back as it is.
        ReturnUnrepaired = "return-unrepaired",
        /// Work found later, beside what was agreed.
        Extra = "extra",
    }

    /// A language of papers and letters.
    #[derive(Default)]
    Language {
        /// English.
        #[default]
        English = "en",
        /// German.
        German = "de",
    }

    /// The size of paper in the printer.
    #[derive(Default)]
    PaperSize {
        /// 210 by 297 mm, ISO 216.
        #[default]
        A4 = "a4",
        /// 8.5 by 11 inches.
        Letter = "letter",
    }

    /// What a day ahead is for.
    DayFor {
        /// The camera is promised by then.
        Promised = "promised",
        /// The guarantee on its work ends.
        GuaranteeEnds = "guarantee-ends",
        /// What is held is to be looked at again.
        LookAgain = "look-again",
    }

    /// Where a part comes from.
    Grade {
        /// Old stock of the factory.
        Original = "original",
        /// Made anew by another maker.
        Reproduction = "reproduction",
        /// From a donor body.
        Salvaged = "salvaged",
        /// Made at the bench.
        Made = "made",
    }

    /// What a movement of pieces was.
    Movement {
        /// Put into a drawer.
        Stored = "stored",
        /// Taken off a donor.
        Salvaged = "salvaged",
        /// Moved to or from another lot.
        Moved = "moved",
        /// Taken out.
        Taken = "taken",
        /// Brought back.
        Returned = "returned",
        /// Counted.
        Counted = "counted",
    }

    /// What state a part of a donor is in.
    DonorPartIs {
        /// Can be used as it is.
        Good = "good",
        /// Worn, but better than none.
        Worn = "worn",
        /// Not looked at yet.
        NotLooked = "not-looked",
        /// Spoiled or missing.
        Spoiled = "spoiled",
    }

    /// When a reading was taken.
    Phase {
        /// As it came.
        Before = "before",
        /// After the work.
        After = "after",
    }

    /// What a reading was taken with.
    Instrument {
        /// Exposure times.
        Shutter = "shutter",
        /// The exposure meter against a known light.
        Meter = "meter",
        /// Register.
        Register = "register",
        /// Rangefinder.
        Rangefinder = "rangefinder",
        /// Teeth of a gear or rack.
        Teeth = "teeth",
        /// Anything else.
        Other = "other",
    }

    /// A measurement against its limit.
    Verdict {
        /// Inside.
        In = "in",
        /// Outside.
        Out = "out",
        /// The uncertainty straddles the limit.
        Undecided = "undecided",
    }

    /// What a line of a quote is for.
    LineFor {
        /// Work.
        Work = "work",
        /// A part.
        Part = "part",
    }

    /// What a paper is.
    PaperKind {
        /// What came, for the owner.
        Receipt = "receipt",
        /// The tag tied to the camera.
        Tag = "tag",
        /// The quote.
        Quote = "quote",
        /// Readings against limits, before and after.
        ProofSheet = "proof-sheet",
        /// What an exposure meter's readings must be given, to keep with the camera.
        CorrectionCard = "correction-card",
        /// The bill.
        Bill = "bill",
        /// What takes back a bill or a part of it.
        CreditNote = "credit-note",
        /// What was found.
        Report = "report",
        /// What the parcel holds, for whoever opens it.
        PackingList = "packing-list",
        /// Labels for trays, cameras and drawers.
        Label = "label",
        /// A mail to be opened and sent in a mail program.
        MailDraft = "mail-draft",
        /// What is in the parcel.
        Declaration = "declaration",
        /// A letter.
        Letter = "letter",
        /// Anything else.
        Other = "other",
    }
}

impl QuoteKind {
    /// Whether it is one of the alternatives of which the owner chooses one; an extra is answered by itself.
    #[must_use]
    pub const fn is_alternative(self) -> bool {
        !matches!(self, Self::Extra)
    }
}

impl Stage {
    /// The stages in the order of the work, without [`Stage::ReturnedUnrepaired`], which stands beside them.
    pub const PATH: &'static [Self] = &[
        Self::Arrived,
        Self::LookedOver,
        Self::Quoted,
        Self::Agreed,
        Self::Apart,
        Self::Together,
        Self::Proved,
        Self::Packed,
        Self::Home,
    ];

    /// Why a visit may not go from this stage to that one; `None` when it may.
    ///
    /// The rule: up to *proved* a visit moves freely, forward (a small job need not be quoted or taken apart) and back. It is
    /// *packed* only when proved or returned unrepaired, and *home* only when packed or returned unrepaired. It can be returned
    /// unrepaired from any stage before it is packed. A parcel that the post brings back goes from *home* to *packed*;
    /// a camera that comes back makes a new visit.
    #[must_use]
    pub fn why_not(self, to: Self) -> Option<&'static str> {
        use Stage::{Home, Packed, Proved, ReturnedUnrepaired};
        match (self, to) {
            (from, to) if from == to => Some("it already stands there"),
            (Home, Packed)
            | (Packed | ReturnedUnrepaired, Home)
            | (Proved | ReturnedUnrepaired, Packed) => None,
            (Home, _) => Some(
                "it went home: a parcel that came back is `packed`, a camera that came back makes a new visit",
            ),
            (_, Home) => Some("it goes home only when packed or returned unrepaired"),
            (_, Packed) => Some("it is packed only when proved or returned unrepaired"),
            (_, _) => None,
        }
    }

    /// Whether the camera is still here.
    #[must_use]
    pub fn is_here(self) -> bool {
        self != Self::Home
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_reads_back_and_no_two_are_alike() {
        for &stage in Stage::ALL {
            assert_eq!(Stage::from_text(stage.as_str()), Some(stage));
            assert_eq!(
                serde_json::to_string(&stage).unwrap(),
                format!("\"{}\"", stage.as_str())
            );
        }
        assert_eq!(Stage::from_text("Home"), None);
        assert_eq!(Stage::LookedOver.to_string(), "looked over");
    }

    #[test]
    fn a_visit_moves_as_the_rule_says() {
        use Stage::{Home, Packed, Proved, ReturnedUnrepaired};
        for &from in Stage::ALL {
            for &to in Stage::ALL {
                let may = match (from, to) {
                    _ if from == to => false,
                    (Home, _) => to == Packed,
                    (_, Home) => matches!(from, Packed | ReturnedUnrepaired),
                    (_, Packed) => matches!(from, Proved | ReturnedUnrepaired),
                    _ => true,
                };
                assert_eq!(from.why_not(to).is_none(), may, "{from} to {to}");
            }
        }
    }

    #[test]
    fn a_visit_can_go_the_whole_path_one_step_at_a_time() {
        for step in Stage::PATH.windows(2) {
            assert_eq!(step[0].why_not(step[1]), None, "{} to {}", step[0], step[1]);
        }
        assert_eq!(Stage::PATH.len() + 1, Stage::ALL.len());
    }
}
