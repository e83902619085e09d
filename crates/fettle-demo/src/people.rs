//! Who brings cameras: invented people in invented places, under addresses kept for examples.

use fettle_bench::{Hand, OwnerDetails};

/// Name, the part of the mail address before the example domain, and the place.
type Person = (&'static str, &'static str, &'static str);

const PEOPLE: [Person; 40] = [
    ("Maren Osterveld-Quay", "maren", "2 Ropewalk\nSaltmere"),
    ("Ebbe Tuvlander", "ebbe", "Stenbrygga 9\nVassholm Norr"),
    (
        "Αγλαΐα Μυρτοπέλου",
        "aglaia",
        "Οδός Ανεμόεσσας 14\nΑρμυροκάλαμο",
    ),
    ("星渡 かなめ", "kaname", "汐見坂 3-7\n青凪町"),
    ("Йоля Вербицвет", "yolya", "Липовый ход, 6\nЗаречье-Тихое"),
    ("Orsolya Kövirág", "orsolya", "Malomalja 21\nSzilvásrév"),
    ("Tadhg Mac Sceilge", "tadhg", "Slip Cottage\nInverbrack"),
    ("ليان الموجي", "layan", "زقاق النورس ٥\nمرسى الملح"),
    ("Ingvild Skarnes-Lo", "ingvild", "Naustbakken 3\nTorvøy"),
    (
        "Baptistin Aiguesvives",
        "baptistin",
        "8 quai des Sternes\nPort-Lavande",
    ),
    ("윤슬아라", "seula", "물결로 12\n은파읍"),
    (
        "Filomena Brancaluz",
        "filomena",
        "Rua da Maré Cheia 40\nVilarinho do Sal",
    ),
    ("Wietske Duinrank", "wietske", "Zilte Dijk 17\nOudezand"),
    ("Cosmin Apăvânt", "cosmin", "Strada Stufului 5\nGura Lină"),
    ("अनुवा तरंगिणी", "anuva", "लहर गली ९\nसागरपुरा"),
    (
        "Zdislava Mlhová-Říčná",
        "zdislava",
        "Nad Jezem 2\nTichá Voda",
    ),
    (
        "Halloran Pike-Sedge",
        "halloran",
        "The Old Net Loft\nSaltmere",
    ),
    ("Ninette Grauwacker", "ninette", "Möwenstieg 11\nAltensiel"),
    (
        "ნინია ზღვისპირელი",
        "ninia",
        "ნავმისადგომის ქ. 4\nზღვისუბანი",
    ),
    ("Ruaridh Glasfeadan", "ruaridh", "4 Peat Row\nKinlochmarra"),
    ("Aurelija Vėjaraštė", "aurelija", "Kopų g. 8\nSmiltakrantis"),
    ("שחף ימית־גל", "shahaf", "סמטת הדייגים 6\nנמל הצדף"),
    (
        "Benedikta Hraunbjörg",
        "benedikta",
        "Fjörustígur 1\nSandvogur",
    ),
    (
        "Pèire Malaterra",
        "peire",
        "3 carrièra de l'Aura\nSanta-Ròca",
    ),
    ("沈鸥渡", "oudu", "望潮里 18 号\n盐汀镇"),
    (
        "Leocadia Farolillo",
        "leocadia",
        "Calle del Varadero 7\nPuerto Umbrío",
    ),
    ("Urmas Kadakmeri", "urmas", "Roo tee 15\nPihlarand"),
    (
        "Mirjami Hallaniemi-Suo",
        "mirjami",
        "Laiturikuja 2\nKaislaranta",
    ),
    ("Զեփյուռ Ծովակյան", "zepyur", "Կամրջի փող. 10\nԱլիքաձոր"),
    (
        "Gwenfrewi Tywodlas",
        "gwenfrewi",
        "1 Rhes yr Halen\nAberhesg",
    ),
    (
        "Vukosava Primorac-Bura",
        "vukosava",
        "Obala Jata 22\nSlanica Mala",
    ),
    ("ทะเลจันทร์ วารีฝัน", "talejan", "ซอยคลื่นเงิน 3\nบ้านปากเกลือ"),
    ("Dorothea Sandklee", "dorothea", "Deichkrone 5\nNeuwarft"),
    ("Iñaki Itsaslore", "inaki", "Kaiko kalea 9\nHondargain"),
    (
        "Yaroslava Turmalinska",
        "yaroslava",
        "вул. Тиха Затока 7\nСолонець",
    ),
    (
        "Calixte Delamarée",
        "calixte",
        "15 venelle du Phare\nSaint-Goémon",
    ),
    (
        "Odalys Corrientes-Mar",
        "odalys",
        "Pasaje Garúa 31\nBahía Lenta",
    ),
    ("Þorgils Úteyjar", "thorgils", "Vitavegur 12\nÚtsker"),
    (
        "Emrys Cockleshaw",
        "emrys",
        "Harbour Office, second floor\nSaltmere",
    ),
    (
        "Sumire Namihana (波花 すみれ)",
        "sumire",
        "浜風通り 2-4\n白砂町",
    ),
];

/// The domains that RFC 2606 keeps for examples.
const DOMAINS: [&str; 3] = ["post.example", "harbour.example", "letters.example"];

const WISHES: [(usize, &str); 5] = [
    (2, "writes in Greek and English"),
    (3, "answers quickest in the evening"),
    (6, "comes by the Thursday boat, no post on Fridays"),
    (16, "pays at the counter; wants the old parts back"),
    (24, "sends two or three at a time each spring"),
];

/// How many owners there are to draw from.
pub(crate) const OWNERS: usize = PEOPLE.len();

/// The owner of this number; numbers beyond the last begin again.
pub(crate) fn owner(number: usize) -> OwnerDetails {
    let number = number % OWNERS;
    let (name, local, address) = PEOPLE[number];
    let wish = WISHES.iter().find(|(of, _)| *of == number);
    OwnerDetails {
        name: name.to_owned(),
        email: format!("{local}@{}", DOMAINS[number % DOMAINS.len()]),
        // The country code 00 is given to nobody.
        phone: if number.is_multiple_of(3) {
            format!("+00 555 {:04}", 1200 + 37 * number)
        } else {
            String::new()
        },
        address: address.to_owned(),
        note: wish.map_or_else(String::new, |(_, text)| (*text).to_owned()),
        ..OwnerDetails::default()
    }
}

/// The two who work at the bench.
pub(crate) fn hand(number: usize) -> Hand {
    Hand::new(["Ysolde", "Bram"][number % 2])
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_owner_is_somebody_else_with_an_example_address() {
        let owners: Vec<_> = (0..OWNERS).map(owner).collect();
        let names: BTreeSet<_> = owners.iter().map(|it| &it.name).collect();
        let mails: BTreeSet<_> = owners.iter().map(|it| &it.email).collect();
        assert_eq!((names.len(), mails.len()), (OWNERS, OWNERS));
        assert!(owners.iter().all(|it| it.email.ends_with(".example")));
    }
}
