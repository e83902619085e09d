//! The page of the backup, what the Bench page reminds of, and what is said when nothing can be written.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

#[path = "../../fettle-bench/tests/support/disk.rs"]
#[allow(dead_code, reason = "the record's own tests take the rest")]
mod disk;
#[path = "support/network.rs"]
mod network;
mod support;

use axum::http::StatusCode;
use disk::{SmallDisk, fill};
use support::{photograph, site, site_in};

#[tokio::test]
async fn a_backup_is_settled_made_and_told_of() {
    let site = site();
    site.arrived().await;
    site.page("/")
        .await
        .hides("backup is")
        .shows("href=\"/backup\"");
    site.page("/backup")
        .await
        .shows("None was made yet.")
        .hides("Back up now");
    let disk = tempfile::tempdir().unwrap();
    let folder = disk.path().join("bench-backup");
    let folder = folder.to_str().unwrap();
    let plan = [("folder", folder), ("every", "1"), ("absent", "yes")];
    assert_eq!(site.post("/backup", &plan).await.goes_to(), "/backup");
    site.page("/backup")
        .await
        .shows("It is due and begins within a minute.")
        .shows(folder);
    assert_eq!(site.post("/backup/now", &[]).await.goes_to(), "/backup");
    site.page("/backup")
        .await
        .shows("2 files")
        .shows("It holds 1 state of the record.")
        .shows(&format!("fettle verify {folder}"))
        .shows("while the program runs");
    assert!(fettle_bench::verify(folder.as_ref()).unwrap().is_whole());
    // The disk is taken away.
    std::fs::rename(folder, disk.path().join("away")).unwrap();
    site.page("/").await.hides("last backup");
    let answer = site.post("/backup/now", &[]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("is not there, or is no backup of this bench: plug in the disk");
    // One that should always be there is missed at once.
    let fixed = fettle_bench::BackupPlan {
        folder: folder.into(),
        every_days: 1,
        may_be_absent: false,
    };
    fixed.write(site.dir.path()).unwrap();
    site.page("/")
        .await
        .shows("The folder of the backup is gone");
    // Nothing is asked for any more.
    assert_eq!(
        site.post("/backup", &[("folder", "")]).await.goes_to(),
        "/backup"
    );
    site.page("/").await.hides("The folder of the backup");
    assert!(!site.dir.path().join("backup.toml").exists());
}

#[tokio::test]
async fn what_cannot_be_settled_is_said_at_its_field_and_kept_as_typed() {
    let site = site();
    let within = site.dir.path().join("backup");
    for (folder, every, said) in [
        ("usb/backup", "1", "write the whole path"),
        ("/no/such/disk", "1", "plug in the disk"),
        (within.to_str().unwrap(), "1", "lies within the bench"),
        ("/tmp/x", "", "the days between two backups are missing"),
        ("/tmp/x", "often", "“often” is not a whole number"),
        ("/tmp/x", "4000", "at least every 365 days"),
    ] {
        let answer = site
            .post("/backup", &[("folder", folder), ("every", every)])
            .await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{folder}");
        answer.shows(said).shows(&format!("value=\"{folder}\""));
    }
    assert!(!site.dir.path().join("backup.toml").exists());
    std::fs::write(site.dir.path().join("backup.toml"), "folder = 1").unwrap();
    site.page("/backup").await.shows("settle the backup anew");
    site.page("/").await.shows("The scheduled backup is off");
}

#[tokio::test]
async fn what_went_wrong_with_a_backup_stands_on_the_bench_page() {
    let site = site();
    let state = site.dir.path().join("backup-state.json");
    let good = |at: &str, lost: u32| {
        format!(
            r#"{{"last_good":{{"at":"{at}","folder":"/disk/b","state":"000001-2026-01-01","entries":3,"files":2,"database_bytes":9,"states":1,"lost":{lost}}}}}"#
        )
    };
    std::fs::write(&state, good("2026-10-01T08:00:00Z", 0)).unwrap();
    site.page("/")
        .await
        .shows("The last backup is 55 days old")
        .shows("Make one now.");
    std::fs::write(&state, good("2026-11-24T08:00:00Z", 2)).unwrap();
    site.page("/").await.shows("The last backup lacks 2 files");
    std::fs::write(
        &state,
        r#"{"last_failure":{"at":"2026-11-24T08:00:00Z","folder":"/disk/b","why":"the disk that holds /disk/b is full"}}"#,
    )
    .unwrap();
    site.page("/")
        .await
        .shows("The last backup failed")
        .shows("The disk that holds /disk/b is full.");
    std::fs::write(&state, "torn").unwrap();
    site.page("/").await.hides("The last backup");
    site.page("/backup").await.shows("None was made yet.");
}

#[tokio::test]
async fn a_form_sent_to_a_full_bench_comes_back_with_what_was_typed_and_why() {
    let dir = tempfile::tempdir().unwrap();
    // Without root there is no small disk; the record's own tests hold it against the database's limit.
    let Some(disk) = SmallDisk::new(dir.path(), "size=4m") else {
        return;
    };
    let site = site_in(dir);
    let visit = site.arrived().await;
    let filler = fill(&disk, 0);
    let typed = "the pawl is worn, and the spring behind it is not the first one ".repeat(60);
    let answer = site
        .post(&format!("{visit}/note"), &[("text", &typed)])
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("is full; nothing was changed: make room and try again")
        .shows(typed.trim_end());
    let answer = site
        .upload(
            "/arrive",
            &[
                ("owner_name", "Marit Halvarsen"),
                ("notes", "corran-66"),
                ("words", &typed),
            ],
            &[("photo", "front.png", photograph())],
        )
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("is full")
        .shows("Marit Halvarsen")
        .shows(typed.trim_end());
    let settings = site
        .post(
            "/settings",
            &[
                ("name", "Another name"),
                ("currency", "EUR"),
                ("address", &typed),
            ],
        )
        .await;
    assert_eq!(settings.status, StatusCode::UNPROCESSABLE_ENTITY);
    settings.shows("is full").shows("Another name");
    // Reading goes on, and so does writing when there is room.
    site.page(&visit).await;
    site.page("/").await;
    std::fs::remove_file(filler).unwrap();
    let answer = site
        .post(&format!("{visit}/note"), &[("text", &typed)])
        .await;
    assert!(answer.goes_to().starts_with(&visit));
    assert_eq!(fettle_bench::verify(site.dir.path()).unwrap().findings, []);
    drop(disk);
}

#[tokio::test]
async fn pages_stand_though_the_clock_was_set_back() {
    let site = site();
    let visit = site.arrived().await;
    // The pages' clock stands in 2026; what follows was written under one that ran ahead.
    let later: jiff::Timestamp = "2031-02-03T04:05:06Z".parse().unwrap();
    let number = fettle_bench::VisitId::new(visit.rsplit('/').next().unwrap().parse().unwrap());
    let waiting = fettle_bench::WaitingBegun {
        visit: number,
        wait_for: fettle_bench::WaitFor::Part,
        what: "a pawl".to_owned(),
    };
    let note = fettle_bench::NoteWritten {
        about: fettle_bench::About::Visit(number),
        text: "written ahead of time".to_owned(),
    };
    let hand = fettle_bench::Hand::new("Ines");
    site.bench
        .apply(&hand, later, vec![waiting.into(), note.into()])
        .unwrap();
    site.post(&format!("{visit}/note"), &[("text", "written after it")])
        .await
        .goes_to();
    let page = site.page(&visit).await.text();
    let journal = page.rfind("Journal").unwrap();
    let place = |text: &str| page[journal..].find(text).unwrap();
    assert!(
        place("written after it") < place("written ahead of time"),
        "{page}"
    );
    site.page("/").await.shows("for a part");
    for path in [
        "/cameras",
        "/cameras/1",
        "/owners/1",
        "/going-home",
        "/learned",
        "/calendar.ics",
        "/backup",
        "/find?q=ahead",
    ] {
        site.page(path).await;
    }
}

#[tokio::test]
async fn a_tablet_makes_a_backup_but_does_not_say_where_the_computer_writes() {
    let open = network::open();
    let tablet = open.tablet().await;
    let disk = tempfile::tempdir().unwrap();
    let folder = disk.path().join("bench-backup");
    let plan = [("folder", folder.to_str().unwrap()), ("every", "1")];
    let refused = tablet.post("/backup", &plan).await;
    assert_eq!(refused.status, StatusCode::FORBIDDEN);
    refused.shows("is settled on the computer that the bench lies on");
    assert!(!folder.exists());
    tablet
        .get("/backup")
        .await
        .shows("is settled on the computer")
        .hides("Settle it so");
    let settled = open.own_post("/backup", &plan).await;
    assert_eq!(settled.status, StatusCode::SEE_OTHER);
    assert_eq!(
        tablet.post("/backup/now", &[]).await.status,
        StatusCode::SEE_OTHER
    );
    tablet
        .get("/backup")
        .await
        .shows("It holds 1 state of the record.");
    assert!(fettle_bench::verify(&folder).unwrap().is_whole());
    // What lets tablets in is not in it.
    assert!(open.dir.path().join("door").is_dir() && !folder.join("door").exists());
}
