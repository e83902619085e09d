//! Cases as files: `cases/NAME.toml` is checked, and what is said of it stands in `cases/NAME.expected`.
//!
//! To take up a new case or a changed message, run the tests with `FETTLE_WRITE_EXPECTED=1` and read the difference.

use std::collections::BTreeSet;
use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};

use fettle_notes::{FILE_MAX_BYTES, Problem, ProblemKind, parse, parse_bytes};

type Outcome<T = ()> = Result<T, Box<dyn Error>>;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases")
}

/// Stems of the files with this ending.
fn stems(ending: &str) -> Outcome<BTreeSet<String>> {
    let mut found = BTreeSet::new();
    for entry in fs::read_dir(folder())? {
        let path = entry?.path();
        if path.extension().is_some_and(|e| e == ending) {
            found.insert(
                path.file_stem()
                    .unwrap_or_default()
                    .to_string_lossy()
                    .into_owned(),
            );
        }
    }
    Ok(found)
}

/// The case's problems, and whether it could be used.
fn checked(stem: &str) -> Outcome<(Vec<Problem>, bool)> {
    let bytes = fs::read(folder().join(format!("{stem}.toml")))?;
    Ok(match parse_bytes(&bytes, Some(&format!("{stem}.toml"))) {
        Ok((_, warnings)) => (warnings, true),
        Err(problems) => (problems.into_vec(), false),
    })
}

fn told(problems: &[Problem], usable: bool) -> String {
    let mut told: String = problems.iter().map(|p| format!("{p}\n\n")).collect();
    told.push_str(if usable {
        "can be used\n"
    } else {
        "cannot be used\n"
    });
    told
}

#[test]
fn every_case_is_told_as_expected() -> Outcome {
    let write = std::env::var_os("FETTLE_WRITE_EXPECTED").is_some();
    let mut wrong = Vec::new();
    for stem in stems("toml")? {
        let (problems, usable) = checked(&stem)?;
        let told = told(&problems, usable);
        let expected = folder().join(format!("{stem}.expected"));
        if write {
            fs::write(&expected, &told)?;
        }
        if fs::read_to_string(&expected).unwrap_or_default() != told {
            wrong.push(format!("{stem}:\n{told}"));
        }
    }
    assert!(wrong.is_empty(), "not as expected:\n{}", wrong.join("\n"));
    Ok(())
}

#[test]
fn no_expectation_is_without_its_case() -> Outcome {
    assert_eq!(stems("expected")?, stems("toml")?);
    Ok(())
}

#[test]
fn every_kind_of_problem_has_a_case() -> Outcome {
    let mut met = BTreeSet::from([
        // These take files too long to keep; they have tests of their own below.
        ProblemKind::TooLarge,
        ProblemKind::More,
    ]);
    for stem in stems("toml")? {
        met.extend(checked(&stem)?.0.into_iter().map(|p| p.kind));
    }
    let all: BTreeSet<ProblemKind> = ProblemKind::ALL.iter().copied().collect();
    assert_eq!(met, all);
    Ok(())
}

#[test]
fn a_file_of_more_than_four_megabytes_is_refused_with_its_size() {
    let text = " ".repeat(FILE_MAX_BYTES + 1);
    let problems = parse(&text, Some("big.toml"))
        .map(|_| ())
        .map_err(|p| p.to_string());
    assert!(problems.is_err_and(|p| p.contains("4000001 bytes") && p.contains("at most 4000000")));
}

#[test]
fn of_very_many_problems_the_first_are_told_and_the_rest_counted() -> Outcome {
    let text: String = (0..1000).map(|n| format!("key-{n} = 1\n")).collect();
    let problems = parse(&text, None).err().ok_or("not clean")?;
    assert_eq!(problems.as_slice().len(), 201);
    let last = problems.iter().next_back().ok_or("a problem")?;
    assert_eq!(last.kind, ProblemKind::More);
    // Two more: the format and the model are missing.
    assert!(
        last.message.starts_with("802 more problems"),
        "{}",
        last.message
    );
    Ok(())
}

/// Texts of at most so many bytes that make a careless reader slow or greedy.
fn hostile(bytes: usize) -> Vec<String> {
    let fill = |line: &dyn Fn(usize) -> String| {
        let mut text = String::new();
        for n in 0.. {
            let line = line(n);
            if text.len() + line.len() > bytes {
                break;
            }
            text.push_str(&line);
        }
        text
    };
    vec![
        "[".repeat(bytes),
        "x={".repeat(bytes / 3),
        "\"".repeat(bytes),
        "'''\n".repeat(bytes / 4),
        "=\n".repeat(bytes / 2),
        "[a]\n".repeat(bytes / 4),
        "a.".repeat(bytes / 2),
        fill(&|n| format!("[part.p{n}]\n")),
        fill(&|n| format!("[removal.p{n}]\nafter = [\"p{n}\"]\n")),
        fill(&|n| format!("[removal.p{n}]\nafter = [\"p{}\"]\n", n + 1)),
        fill(&|n| format!("[fault.f{n}]\ncured_by = [\"w{}\", \"v{n}\"]\n", n + 1)),
        format!("x = [{}]", "1,".repeat(bytes / 2 - 10)),
    ]
}

#[test]
fn hostile_files_are_answered_with_few_problems() -> Outcome {
    // Every slip is sought in files of up to 500 kB; of larger ones a few are enough here, because they take seconds unoptimised.
    for text in hostile(500_000)
        .into_iter()
        .chain(hostile(FILE_MAX_BYTES).into_iter().take(6))
    {
        let began = text.get(..20).unwrap_or_default().to_owned();
        let problems = parse(&text, None)
            .err()
            .ok_or("a hostile file is not clean")?;
        assert!((1..=201).contains(&problems.as_slice().len()), "{began}");
        assert!(problems.to_string().len() < 500_000, "{began}");
    }
    Ok(())
}

#[test]
fn problems_stand_in_the_files_order() -> Outcome {
    for stem in stems("toml")? {
        let places: Vec<(u32, u32)> = checked(&stem)?
            .0
            .iter()
            .map(|p| (p.line, p.column))
            .collect();
        assert!(places.is_sorted(), "{stem}: {places:?}");
    }
    Ok(())
}
