//! Writes parts in every format, and pairs in mesh, to be looked at and read back by other programs: `parts FOLDER`.

use std::fs;
use std::path::PathBuf;

use fettle_draw::{Sheet, mesh_drawing, part};
use fettle_measure::gear::mesh;
use fettle_measure::gear::part::{Form, Hole, Options, Slot};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("which folder?")?);
    let gear = |module_mm, teeth| Options::new(Form::Gear, module_mm, teeth, 2.0);
    let mut bored = gear(0.5, 40);
    bored.bore_mm = Some(4.0);
    bored.holes = [(6.0, 0.0), (-3.0, 5.2), (-3.0, -5.2)]
        .map(|(x_mm, y_mm)| Hole {
            diameter_mm: 2.5,
            x_mm,
            y_mm,
        })
        .to_vec();
    let mut eased = gear(0.8, 24);
    (eased.tip_relief_mm, eased.backlash_mm, eased.shift) = (0.015, 0.02, 0.2);
    eased.slots = vec![Slot {
        length_mm: 9.0,
        width_mm: 3.0,
        x_mm: 0.0,
        y_mm: -1.0,
    }];
    let mut slotted = Options::new(Form::Rack, 0.5, 20, 1.5);
    slotted.height_mm = 4.0;
    slotted.holes = vec![Hole {
        diameter_mm: 2.0,
        x_mm: 4.0,
        y_mm: -2.6,
    }];
    slotted.slots = vec![
        Slot {
            length_mm: 7.0,
            width_mm: 1.6,
            x_mm: 15.0,
            y_mm: -2.6,
        },
        Slot {
            length_mm: 1.4,
            width_mm: 2.4,
            x_mm: 27.0,
            y_mm: -2.6,
        },
    ];
    let mut eased_rack = Options::new(Form::Rack, 1.0, 6, 3.0);
    (eased_rack.tip_relief_mm, eased_rack.backlash_mm) = (0.02, 0.03);
    let mut with_rack = mesh::Options::new(1.0, 12, mesh::Mate::Rack);
    with_rack.apart_mm = 0.1;
    let pair = mesh::analyse(&with_rack)?;
    for (name, options) in [
        ("pinion", gear(1.0, 12)),
        ("bored", bored),
        ("eased", eased),
        ("fine", gear(0.3, 120)),
        ("slotted", slotted),
        ("eased-rack", eased_rack),
        ("long-rack", Options::new(Form::Rack, 0.4, 200, 2.0)),
    ] {
        let made = options.part()?;
        let volume = format!("{:.6} mm3\n", made.volume_mm3());
        fs::write(folder.join(format!("{name}.txt")), volume)?;
        fs::write(folder.join(format!("{name}.svg")), part::svg(&made))?;
        fs::write(folder.join(format!("{name}.dxf")), part::dxf(&made))?;
        fs::write(folder.join(format!("{name}.step")), part::step(&made, name))?;
        let corner = part::Corner {
            title: format!("{name} to be made"),
            number: "7".to_owned(),
            material: "brass, half hard".to_owned(),
            date: "2026-03-02".to_owned(),
        };
        let sheet = part::sheet(&made, &corner, Some(&pair));
        fs::write(folder.join(format!("{name}-sheet.svg")), sheet)?;
    }
    let mut apart = mesh::Options::new(0.6, 12, mesh::Mate::Gear { teeth: 60 });
    apart.apart_mm = 0.25;
    let few = mesh::Options::new(0.5, 40, mesh::Mate::Rack);
    for (name, options) in [
        ("mesh-rack", with_rack),
        ("mesh-gear", apart),
        ("mesh-wheel", few),
    ] {
        let drawing = mesh_drawing(&mesh::analyse(&options)?, Sheet::Light);
        fs::write(folder.join(format!("{name}.svg")), drawing)?;
    }
    Ok(())
}
