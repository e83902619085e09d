//! How far long work has come: a bar on a terminal, nothing elsewhere.

use indicatif::{ProgressBar, ProgressStyle};

/// A bar on standard error, which vanishes when it is dropped.
#[derive(Debug, Default)]
pub(crate) struct Bar {
    bar: Option<(String, ProgressBar)>,
}

impl Bar {
    /// So many of so many are done of this; another word begins a new bar.
    pub(crate) fn show(&mut self, doing: &str, done: u64, of: u64) {
        if self.bar.as_ref().is_none_or(|(word, _)| word != doing) {
            self.clear();
            let bar = ProgressBar::new(of);
            // The pattern is fixed; were it wrong, the library's own bar would do.
            if let Ok(style) =
                ProgressStyle::with_template("{msg:9} {wide_bar} {pos}/{len} {eta:>4}")
            {
                bar.set_style(style);
            }
            bar.set_message(doing.to_owned());
            self.bar = Some((doing.to_owned(), bar));
        }
        if let Some((_, bar)) = &self.bar {
            bar.set_position(done);
        }
    }

    fn clear(&mut self) {
        if let Some((_, bar)) = self.bar.take() {
            bar.finish_and_clear();
        }
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.clear();
    }
}
