//! What can be done in a visit: the forms of its page, by the name in their address.

use fettle_bench::Change;

use super::context::Context;
use super::section::Section;
use super::{
    apart, billing, cause, from_drawer, going, likely, looked_over, mail, papers, proof, put_back,
    quote, readings, repaired, run, shutter_reading, standing, suggested, teeth, to_notes, trial,
};
use crate::form::{Fields, Wrong};
use crate::upload::{Takes, Upload};

macro_rules! deeds {
    ($($variant:ident = $name:literal, $section:expr, $run:path;)*) => {
        /// One thing that a form of the page does.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(crate) enum Deed { $($variant,)* }

        impl Deed {
            pub(crate) const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// Its name in the address, and the id of its form.
            pub(crate) fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// Where its form stands; `None` at the head of the page.
            pub(crate) fn section(self) -> Option<Section> {
                match self { $(Self::$variant => $section,)* }
            }

            /// What the form asks to be recorded.
            pub(crate) fn changes(self, context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
                match self { $(Self::$variant => $run(context, sent),)* }
            }
        }
    };
}

deeds! {
    Stage = "stage", None, standing::stage;
    Wait = "wait", None, standing::wait;
    Came = "came", None, standing::came;
    Note = "note", None, standing::note;
    Photos = "photos", None, standing::photos;
    Signs = "signs", Some(Section::LookedOver), looked_over::signs;
    OwnSign = "own-sign", Some(Section::LookedOver), looked_over::own_sign;
    Suggested = "suggested", Some(Section::LookedOver), suggested::suggested;
    Circumstances = "circumstances", Some(Section::LookedOver), looked_over::circumstances;
    EarlierHands = "earlier-hands", Some(Section::LookedOver), looked_over::earlier_hands;
    Look = "look", Some(Section::Cause), likely::look;
    Fault = "fault", Some(Section::Cause), cause::fault;
    Strip = "strip", Some(Section::Cause), likely::strip;
    FaultToNotes = "fault-to-notes", Some(Section::Cause), to_notes::fault;
    SignToNotes = "sign-to-notes", Some(Section::LookedOver), to_notes::sign;
    QuoteMade = "quote", Some(Section::Quote), quote::quote;
    Answer = "answer", Some(Section::Quote), quote::answer;
    Removed = "removed", Some(Section::Apart), apart::removed;
    Work = "work", Some(Section::Repaired), repaired::work;
    Part = "part", Some(Section::Repaired), repaired::part;
    Take = "take", Some(Section::Repaired), from_drawer::take;
    BringBack = "bring-back", Some(Section::Repaired), from_drawer::bring_back;
    Returned = "returned", Some(Section::PutBack), put_back::returned;
    Setting = "setting", Some(Section::Proof), proof::setting;
    Trial = "trial", Some(Section::Proof), trial::trial;
    Run = "run", Some(Section::Proof), run::run;
    Teeth = "teeth", Some(Section::Proof), teeth::teeth;
    Reading = "reading", Some(Section::Proof), proof::reading;
    Recording = "recording", Some(Section::Proof), proof::recording;
    Corrected = "corrected", Some(Section::Proof), shutter_reading::corrected;
    Shortfall = "shortfall", Some(Section::Proof), proof::shortfall;
    Bill = "bill", Some(Section::Bill), billing::bill;
    Credit = "credit", Some(Section::Bill), billing::credit;
    Payment = "payment", Some(Section::Bill), billing::payment;
    Paper = "paper", Some(Section::Papers), papers::paper;
    Mail = "mail", Some(Section::Papers), mail::mail;
    Packed = "packed", Some(Section::Home), going::packed;
    Sent = "sent", Some(Section::Home), going::sent;
    Hold = "hold", Some(Section::Home), going::hold;
    HoldEnded = "hold-ended", Some(Section::Home), going::hold_ended;
}

impl Deed {
    pub(crate) fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|deed| deed.name() == name)
    }

    /// The hidden field that tells several forms of this deed on one page apart.
    fn key(self) -> Option<&'static str> {
        match self {
            Self::Came => Some("wait"),
            Self::Removed => Some("piece"),
            Self::Setting | Self::Trial => Some("setting"),
            Self::Reading | Self::Recording | Self::Run | Self::Teeth => Some("limit"),
            Self::Corrected => Some("reading"),
            Self::BringBack => Some("taken"),
            Self::Suggested => Some("suggestion"),
            Self::Look | Self::SignToNotes => Some("sign"),
            Self::FaultToNotes => Some("fault"),
            Self::Answer => Some("extra"),
            Self::Credit => Some("bill"),
            Self::HoldEnded => Some("hold"),
            _ => None,
        }
    }

    /// Where on the page what its form recorded is to be seen, by id; `None` at the head of its stretch.
    pub(crate) fn place(self, fields: &Fields) -> Option<String> {
        match self {
            Self::Recording | Self::Corrected | Self::Reading | Self::Run | Self::Teeth => {
                Some(readings::place(fields.some("limit").as_deref()))
            }
            _ => None,
        }
    }

    /// The id of the form that these fields came from.
    pub(crate) fn form_id(self, fields: &Fields) -> String {
        match self.key() {
            Some(key) => self.keyed_id(fields.text(key)),
            None => self.name().to_owned(),
        }
    }

    /// The id of the one among several forms of this deed that has this value in its hidden field.
    pub(crate) fn keyed_id(self, value: &str) -> String {
        if value.is_empty() {
            self.name().to_owned()
        } else {
            format!("{}-{value}", self.name())
        }
    }

    /// What files its form takes.
    pub(crate) fn takes(self) -> Takes {
        match self {
            Self::Recording => Takes::Recordings,
            Self::Run => Takes::Tables,
            _ => Takes::Photographs,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_deed_is_found_by_its_name() {
        for &deed in Deed::ALL {
            assert_eq!(Deed::from_name(deed.name()), Some(deed));
        }
        assert_eq!(Deed::from_name("receipt"), None);
    }
}
