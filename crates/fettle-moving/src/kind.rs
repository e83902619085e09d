//! What a table can bring, and the fields of each.

use std::{fmt, str::FromStr};

use serde::Serialize;

/// What a table brings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Owners, or contacts.
    Owners,
    /// Cameras with their serial numbers.
    Cameras,
    /// Visits of cameras and owners that are known, past ones above all.
    Visits,
    /// Parts in drawers.
    Parts,
}

/// One field of a kind, and what its column may be called.
#[derive(Debug)]
pub struct Field {
    /// The field, as `--map` names it.
    pub name: &'static str,
    /// What stands in it.
    pub about: &'static str,
    /// Headings by which its column is known, English and German.
    pub(crate) called: &'static [&'static str],
}

const fn field(name: &'static str, about: &'static str, called: &'static [&'static str]) -> Field {
    Field {
        name,
        about,
        called,
    }
}

/// A note, that every kind has.
const NOTE: Field = field(
    "note",
    "a note",
    &[
        "notes",
        "remark",
        "remarks",
        "comment",
        "comments",
        "notiz",
        "notizen",
        "bemerkung",
        "bemerkungen",
        "anmerkung",
        "kommentar",
    ],
);

const OWNERS: &[Field] = &[
    field(
        "name",
        "the full name",
        &[
            "full name",
            "owner",
            "customer",
            "client",
            "contact",
            "display name",
            "kunde",
            "kundenname",
            "eigentümer",
            "besitzer",
            "vollständiger name",
            "ansprechpartner",
        ],
    ),
    field(
        "given-name",
        "the given name, when the name stands in two columns",
        &["first name", "forename", "vorname", "rufname"],
    ),
    field(
        "family-name",
        "the family name, when the name stands in two columns",
        &["last name", "surname", "nachname", "familienname", "zuname"],
    ),
    field(
        "email",
        "the mail address",
        &[
            "e-mail",
            "mail",
            "mail address",
            "email address",
            "e-mail 1 - value",
            "e-mail-adresse",
            "mailadresse",
            "emailadresse",
        ],
    ),
    field(
        "phone",
        "the telephone number",
        &[
            "telephone",
            "tel",
            "phone number",
            "phone 1 - value",
            "telefon",
            "telefonnummer",
            "tel nr",
            "rufnummer",
            "fon",
        ],
    ),
    field(
        "mobile",
        "a second telephone number; goes into the note",
        &[
            "mobile phone",
            "cell",
            "cell phone",
            "mobil",
            "handy",
            "mobiltelefon",
            "handynummer",
        ],
    ),
    field(
        "address",
        "the postal address, in one column",
        &[
            "postal address",
            "full address",
            "adresse",
            "anschrift",
            "postanschrift",
        ],
    ),
    field(
        "street",
        "street and number, when the address stands in several columns",
        &[
            "street address",
            "address line 1",
            "straße",
            "strasse",
            "straße und hausnummer",
            "straße nr",
        ],
    ),
    field(
        "postcode",
        "the postal code",
        &["zip", "zip code", "postal code", "plz", "postleitzahl"],
    ),
    field(
        "town",
        "the town",
        &["city", "place", "ort", "stadt", "wohnort"],
    ),
    field(
        "country",
        "the country; two letters are kept as such, a name goes into the address",
        &["land", "staat"],
    ),
    field(
        "language",
        "the language of their papers: en or de",
        &["sprache", "lang"],
    ),
    NOTE,
];

const CAMERAS: &[Field] = &[
    field(
        "maker",
        "who made it",
        &[
            "make",
            "brand",
            "manufacturer",
            "hersteller",
            "marke",
            "fabrikat",
        ],
    ),
    field(
        "model",
        "what it is called",
        &[
            "camera",
            "camera model",
            "model name",
            "type",
            "kamera",
            "modell",
            "kameramodell",
            "typ",
            "bezeichnung",
        ],
    ),
    field(
        "service-notes",
        "the id of its service notes",
        &["notes id", "model id"],
    ),
    field(
        "serial",
        "the serial number of the body",
        &[
            "serial number",
            "serial no",
            "s/n",
            "sn",
            "body serial",
            "body number",
            "body no",
            "seriennummer",
            "serien nr",
            "gehäusenummer",
            "gehäuse nr",
            "fabriknummer",
        ],
    ),
    field(
        "lens-serial",
        "the serial number of the lens",
        &[
            "lens serial number",
            "lens number",
            "lens no",
            "objektivnummer",
            "objektiv nr",
            "seriennummer objektiv",
        ],
    ),
    NOTE,
];

const VISITS: &[Field] = &[
    field(
        "owner",
        "the owner's name",
        &[
            "name",
            "owner name",
            "customer",
            "customer name",
            "client",
            "kunde",
            "kundenname",
            "eigentümer",
            "besitzer",
        ],
    ),
    field(
        "email",
        "the owner's mail address, which tells owners of one name apart",
        &[
            "owner email",
            "e-mail",
            "mail",
            "customer email",
            "e-mail-adresse",
            "mailadresse",
        ],
    ),
    field(
        "serial",
        "a serial number of the camera",
        &[
            "serial number",
            "serial no",
            "camera serial",
            "s/n",
            "sn",
            "body number",
            "seriennummer",
            "serien nr",
            "gehäusenummer",
        ],
    ),
    field(
        "model",
        "the camera's model, which tells cameras of one number apart",
        &["camera", "camera model", "kamera", "modell", "kameramodell"],
    ),
    field(
        "arrived",
        "the day it came",
        &[
            "arrival",
            "arrival date",
            "date in",
            "received",
            "date received",
            "in",
            "date",
            "eingang",
            "eingangsdatum",
            "angekommen",
            "ankunft",
            "annahme",
            "annahmedatum",
            "datum",
        ],
    ),
    field(
        "home",
        "the day it went home; empty while it is here",
        &[
            "went home",
            "date out",
            "returned",
            "date returned",
            "sent",
            "shipped",
            "out",
            "completed",
            "ausgang",
            "ausgangsdatum",
            "abgabe",
            "abgeholt",
            "zurück",
            "zurückgesandt",
            "versandt",
            "fertig am",
        ],
    ),
    field(
        "unrepaired",
        "yes when it went back without being repaired",
        &[
            "returned unrepaired",
            "not repaired",
            "unrepariert",
            "unrepariert zurück",
            "nicht repariert",
        ],
    ),
    field(
        "words",
        "what the owner said was wrong",
        &[
            "complaint",
            "problem",
            "symptom",
            "symptoms",
            "reported",
            "beanstandung",
            "fehlerbeschreibung",
            "kundenangabe",
            "schilderung",
        ],
    ),
    field(
        "wanted",
        "what was wanted",
        &["request", "order", "job", "auftrag", "wunsch", "gewünscht"],
    ),
    field("condition", "the visible condition", &["state", "zustand"]),
    field(
        "came-with",
        "what came with it, divided by semicolons or lines",
        &["accessories", "came with it", "zubehör", "mitgeliefert"],
    ),
    field(
        "faults",
        "the faults found, divided by semicolons or lines",
        &[
            "fault",
            "fault found",
            "diagnosis",
            "finding",
            "findings",
            "cause",
            "fehler",
            "mangel",
            "mängel",
            "diagnose",
            "befund",
            "ursache",
        ],
    ),
    field(
        "work",
        "the work done, divided by semicolons or lines",
        &[
            "work done",
            "repair",
            "service",
            "services",
            "arbeit",
            "arbeiten",
            "ausgeführte arbeiten",
            "reparatur",
            "leistung",
            "leistungen",
        ],
    ),
    field(
        "minutes",
        "how long each work took, in minutes or as 1:30 h",
        &[
            "time",
            "time spent",
            "duration",
            "work time",
            "minuten",
            "zeit",
            "dauer",
            "arbeitszeit",
        ],
    ),
    field(
        "price",
        "what the owner paid for it, in all",
        &[
            "amount",
            "total",
            "cost",
            "charge",
            "charged",
            "price paid",
            "preis",
            "betrag",
            "summe",
            "kosten",
            "rechnungsbetrag",
            "gesamtpreis",
        ],
    ),
    field(
        "currency",
        "the currency of the price; the bench's where there is none",
        &["währung"],
    ),
    field(
        "carrier",
        "who carried it home",
        &[
            "shipped by",
            "shipper",
            "versender",
            "versand mit",
            "paketdienst",
        ],
    ),
    field(
        "tracking",
        "the tracking number",
        &[
            "tracking number",
            "tracking no",
            "sendungsnummer",
            "paketnummer",
        ],
    ),
    NOTE,
];

const PARTS: &[Field] = &[
    field(
        "part",
        "what the part is called",
        &[
            "name",
            "part name",
            "item",
            "description",
            "teil",
            "ersatzteil",
            "bauteil",
            "bezeichnung",
            "artikel",
            "beschreibung",
        ],
    ),
    field(
        "maker",
        "who made the camera that it belongs to",
        &["make", "brand", "manufacturer", "hersteller", "marke"],
    ),
    field(
        "model",
        "the model that it belongs to; empty for what fits anything",
        &[
            "camera",
            "camera model",
            "for",
            "fits",
            "kamera",
            "modell",
            "passt zu",
            "für",
        ],
    ),
    field(
        "service-notes",
        "the id of that model's service notes",
        &["notes id", "model id"],
    ),
    field(
        "grade",
        "original, reproduction, salvaged or made",
        &[
            "quality",
            "condition",
            "origin",
            "qualität",
            "güte",
            "zustand",
            "herkunft der teile",
        ],
    ),
    field(
        "quantity",
        "how many pieces",
        &[
            "qty",
            "pieces",
            "count",
            "amount",
            "stock",
            "on hand",
            "anzahl",
            "menge",
            "stück",
            "stückzahl",
            "bestand",
        ],
    ),
    field(
        "price",
        "what one piece cost",
        &[
            "unit price",
            "price each",
            "cost",
            "cost each",
            "preis",
            "stückpreis",
            "einzelpreis",
            "einkaufspreis",
            "ek",
        ],
    ),
    field(
        "currency",
        "the currency of the price; the bench's where there is none",
        &["währung"],
    ),
    field(
        "source",
        "where it came from",
        &[
            "supplier",
            "vendor",
            "bought from",
            "lieferant",
            "quelle",
            "herkunft",
            "bezogen von",
        ],
    ),
    field(
        "drawer",
        "the drawer it lies in",
        &[
            "location",
            "bin",
            "box",
            "shelf",
            "lade",
            "schublade",
            "fach",
            "lagerort",
            "lagerplatz",
            "kiste",
        ],
    ),
    field(
        "place",
        "where that drawer is",
        &["room", "cabinet", "cupboard", "raum", "schrank", "regal"],
    ),
    field(
        "minimum",
        "how many should always be there",
        &[
            "min",
            "minimum stock",
            "reorder level",
            "mindestbestand",
            "meldebestand",
        ],
    ),
    NOTE,
];

impl Kind {
    /// Every kind, in the order in which one brings them: visits need owners and cameras.
    pub const ALL: [Self; 4] = [Self::Owners, Self::Cameras, Self::Visits, Self::Parts];

    /// The kind as it is typed.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Owners => "owners",
            Self::Cameras => "cameras",
            Self::Visits => "visits",
            Self::Parts => "parts",
        }
    }

    /// So many new ones in words: `1 new owner`, `3 new owners`.
    #[must_use]
    pub fn counted(self, new: usize) -> String {
        let many = self.as_str();
        let one = many.strip_suffix('s').unwrap_or(many);
        format!("{new} new {}", if new == 1 { one } else { many })
    }

    /// Its fields.
    #[must_use]
    pub const fn fields(self) -> &'static [Field] {
        match self {
            Self::Owners => OWNERS,
            Self::Cameras => CAMERAS,
            Self::Visits => VISITS,
            Self::Parts => PARTS,
        }
    }

    /// Fields of which at least one of each group must have a column.
    pub(crate) const fn needed(self) -> &'static [&'static [&'static str]] {
        match self {
            Self::Owners => &[&["name", "given-name", "family-name"]],
            Self::Cameras => &[&["model"]],
            Self::Visits => &[&["owner", "email"], &["serial"], &["arrived"]],
            Self::Parts => &[&["part"], &["quantity"], &["grade"], &["drawer"]],
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

impl FromStr for Kind {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let known = Self::ALL.into_iter().find(|kind| kind.as_str() == text);
        known.ok_or_else(|| format!("`{text}` is none of owners, cameras, visits, parts"))
    }
}
