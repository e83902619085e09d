//! A disk that is small, full or cannot be written.

use std::{
    io::Write,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

/// A small disk in memory, mounted for the test; only root can have one.
pub(crate) struct SmallDisk(pub(crate) PathBuf);

impl SmallDisk {
    pub(crate) fn new(dir: &Path, options: &str) -> Option<Self> {
        std::fs::create_dir_all(dir).unwrap();
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", options, "tmpfs"])
            .arg(dir)
            .stderr(Stdio::null())
            .status()
            .is_ok_and(|status| status.success());
        mounted.then(|| Self(dir.to_owned()))
    }

    pub(crate) fn remount(&self, options: &str) {
        let status = Command::new("mount")
            .args(["-o", &format!("remount,{options}")])
            .arg(&self.0)
            .status();
        assert!(status.unwrap().success());
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        // Left mounted when it fails; the test has said what it had to say by then.
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

/// Fills what is left of the disk but for `spare` bytes, and gives the file that does.
pub(crate) fn fill(disk: &SmallDisk, spare: u64) -> PathBuf {
    let path = disk.0.join("filler");
    let mut filler = std::fs::File::create(&path).unwrap();
    while filler.write(&[0x55; 4096]).is_ok_and(|bytes| bytes > 0) {}
    let length = filler.metadata().unwrap().len();
    filler.set_len(length.saturating_sub(spare)).unwrap();
    path
}
