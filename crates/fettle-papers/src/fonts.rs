//! The faces the papers are set in. They are in the program; nothing is read from the machine.

use std::sync::OnceLock;

use typst::foundations::Bytes;
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;

/// The faces used, of those bundled: a text family with its weights, and two that fill in what it lacks.
const FACES: [&str; 6] = [
    "LibertinusSerif-Regular",
    "LibertinusSerif-Italic",
    "LibertinusSerif-Semibold",
    "LibertinusSerif-Bold",
    "NewCM10-Regular",
    "DejaVuSansMono",
];

macro_rules! faces {
    ($($file:literal),* $(,)?) => { [$(include_bytes!(concat!("../faces/", $file, ".ttf")) as &[u8]),*] };
}

/// What those lack, so that a name stands as its owner writes it; licences lie beside the files.
const OTHER_LETTERS: [&[u8]; 21] = faces![
    "NotoSerifDevanagari-Regular",
    "NotoSerifBengali-Regular",
    "NotoSerifGurmukhi-Regular",
    "NotoSerifGujarati-Regular",
    "NotoSansOriya-Regular",
    "NotoSerifTamil-Regular",
    "NotoSerifTelugu-Regular",
    "NotoSerifKannada-Regular",
    "NotoSerifMalayalam-Regular",
    "NotoSerifSinhala-Regular",
    "NotoSerifThai-Regular",
    "NotoSerifLao-Regular",
    "NotoSerifKhmer-Regular",
    "NotoSerifMyanmar-Regular",
    "NotoSerifTibetan-Regular",
    "NotoSerifEthiopic-Regular",
    "NotoNaskhArabic-Regular",
    "NotoSansThaana-Regular",
    "NotoSansCherokee-Regular",
    "NotoSansCanadianAboriginal-Regular",
    "DroidSansFallback",
];

/// The loaded faces and what they cover.
pub(crate) struct Fonts {
    book: LazyHash<FontBook>,
    faces: Vec<Font>,
}

impl Fonts {
    /// The faces, loaded at the first call.
    pub(crate) fn bundled() -> &'static Self {
        static FONTS: OnceLock<Fonts> = OnceLock::new();
        FONTS.get_or_init(|| {
            let faces: Vec<Font> = typst_assets::fonts()
                .flat_map(|data| Font::iter(Bytes::new(data)))
                .filter(|font| {
                    font.post_script_name()
                        .is_some_and(|name| FACES.contains(&name.as_str()))
                })
                .chain(
                    OTHER_LETTERS
                        .into_iter()
                        .flat_map(|data| Font::iter(Bytes::new(data))),
                )
                .collect();
            Self {
                book: LazyHash::new(FontBook::from_fonts(&faces)),
                faces,
            }
        })
    }

    pub(crate) fn book(&self) -> &LazyHash<FontBook> {
        &self.book
    }

    pub(crate) fn face(&self, index: usize) -> Option<Font> {
        self.faces.get(index).cloned()
    }

    /// Whether some face has a glyph for a character.
    pub(crate) fn cover(&self, c: char) -> bool {
        self.faces
            .iter()
            .any(|face| face.info().coverage.contains(u32::from(c)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_face_named_is_found() {
        assert_eq!(
            Fonts::bundled().faces.len(),
            FACES.len() + OTHER_LETTERS.len()
        );
    }

    #[test]
    fn the_letters_of_europe_and_its_neighbours_and_the_signs_of_the_trade_are_covered() {
        let letters = "Aäøščźżőğ Ελλάς Москва نور שלום Հայ ქართ ±−×·…–—°µΩ½⅓⅔→";
        for c in letters.chars() {
            assert!(Fonts::bundled().cover(c), "{c}");
        }
        assert!(!Fonts::bundled().cover('\u{13000}'));
    }

    #[test]
    fn names_are_covered_in_most_scripts_in_use() {
        let names = "青木 繁 さくら サクラ 김서연 मीरा শর্মিলা ਗੁਰਪ੍ਰੀਤ હેતલ ମଧୁ அருண் శాంతి ಅನು അനിൽ නිමල් สมชาย ສົມ សុខ အောင် བསོད ሰላም އަލީ ᏣᎳᎩ ᐃᓄᒃ";
        for c in names.chars() {
            assert!(Fonts::bundled().cover(c), "{c}");
        }
    }
}
