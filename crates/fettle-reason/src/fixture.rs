//! A small camera for tests.

use fettle_notes::{PartId, ServiceNotes};

pub(crate) const TOML: &str = r#"
format = "fettle-notes-1"

[model]
id = "wren"
maker = "Tamsin"
name = "Wren"
kind = "viewfinder camera"
years = "1950-1955"
frame_mm = [36, 24]
shutter = "leaf"
serial_at = "under the base"
summary = "A camera for tests."
cautions = []
author = "the tests"
revised = 2026-01-01

[part.hood]
name = "hood"
at = "top"
[part.front]
name = "front"
at = "front"
[part.base]
name = "base"
at = "bottom"
[part.shutter]
name = "shutter"
at = "inside"

[removal.hood]
minutes = 1
side = "top"
[removal.front]
after = ["hood"]
minutes = 2
side = "front"
disturbs = ["register"]
[removal.base]
minutes = 1
side = "bottom"
[removal.shutter]
either = [["hood", "front"], ["base"]]
minutes = 5
side = "inside"
disturbs = ["infinity", "register"]

[setting.infinity]
name = "infinity"
proved_by = ["infinity"]
depends_on = ["register"]
[setting.register]
name = "register"
proved_by = ["register"]

[limit.register]
kind = "register"
name = "register"
target_mm = 40.0
limit_mm = 0.02
frame_mm = [36, 24]
[limit.infinity]
kind = "check"
name = "infinity"
question = "Is the far tower sharp?"
"#;

pub(crate) fn notes() -> ServiceNotes {
    fettle_notes::parse(TOML, None)
        .expect("the fixture is sound")
        .0
}

pub(crate) fn part(id: &str) -> PartId {
    PartId::new(id).expect("a well-formed id")
}

/// A camera of parts `p0`, `p1` ... with the given removal tables.
pub(crate) fn of_removals(count: usize, removals: &str) -> Option<ServiceNotes> {
    let head = TOML.split("[part.hood]").next().unwrap_or_default();
    let parts: String = (0..count)
        .map(|n| format!("[part.p{n}]\nname = \"p{n}\"\nat = \"somewhere\"\n"))
        .collect();
    fettle_notes::parse(&format!("{head}{parts}{removals}"), None)
        .ok()
        .map(|parsed| parsed.0)
}
