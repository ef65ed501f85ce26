//! Refractive indices, and what the wrong scale shows.

use super::Apart;
use super::table::{Row, rows};
use domain::fluid::Glycol;
use domain::fluid::composition::volume_fraction;
use domain::fluid::refractometer::{NoStrength, Read, Reading, refractive_index, shown_on};

/// CRC Handbook, 102nd ed. (EG) and Anal. Chem. 1951 moved to 20 °C (PG), read in the source. The
/// handbook has four decimals, and its rows lie up to 0.0001 beside the straight lines of 5 % here;
/// measurements by another hand at 20 °C lie within 0.0003.
#[test]
fn indices_are_those_of_the_tables() {
    let mut ours = Apart::new("index of refraction");
    let mut measured = Apart::new("index of propylene glycol as measured");
    for row in rows(include_str!("../../tables/ref_refractive_index.csv")) {
        let percent = row.number("mass_pct");
        for (glycol, column) in [(Glycol::Eg, "eg_nD_20c"), (Glycol::Pg, "pg_nD_20c_derived")] {
            // A hair below, so that rounding does not carry the last row past the end.
            let f = volume_fraction(glycol, percent / 100.0 * (1.0 - 1e-12));
            let found = refractive_index(glycol, f).unwrap();
            ours.see(found - row.number(column), format!("{column} {percent} %"));
        }
        if let Some(table) = row.number_if_any("pg_measured_20c") {
            let off = row.number("pg_nD_20c_derived") - table;
            measured.see(off, format!("{percent} %"));
        }
    }
    ours.lies(-1e-6..=1e-6, 26);
    measured.lies(-3e-4..=3e-4, 2);
    let mut finer = Apart::new("index, all rows of CRC");
    for row in rows(include_str!("../../tables/ref_crc_eg.csv")) {
        let percent = row.number("mass_pct");
        let f = volume_fraction(Glycol::Eg, percent / 100.0 * (1.0 - 1e-12));
        let off = refractive_index(Glycol::Eg, f).unwrap() - row.number("refr_index_nD20");
        finer.see(off, format!("{percent} %"));
    }
    finer.lies(-1e-4..=1e-4, 26);
}

/// Worked out in Python from the finer tables with a smooth line between their rows. A step of
/// 0.0001 in the index is 0.1 % of strength or 0.13 °C at half and half.
#[test]
fn the_wrong_scale_shows_what_was_worked_out_elsewhere() {
    let mut shows = Apart::new("what the wrong scale shows, °C");
    let mut truly = Apart::new("what is truly there, °C");
    let mut percent = Apart::new("what is truly there, %");
    for row in rows(include_str!("../../tables/ref_refractometer_mixup.csv")) {
        let f = row.number("vol_pct_true") / 100.0;
        for (scale, fluid, [reads, freezes, off]) in [
            (
                Glycol::Eg,
                Glycol::Pg,
                [
                    "pg_on_eg_scale_reads_c",
                    "pg_true_freeze_c",
                    "pg_on_eg_error_c",
                ],
            ),
            (
                Glycol::Pg,
                Glycol::Eg,
                [
                    "eg_on_pg_scale_reads_c",
                    "eg_true_freeze_c",
                    "eg_on_pg_error_c",
                ],
            ),
        ] {
            let at = format!("{fluid} {f}");
            let Some(table) = row.number_if_any(reads) else {
                // Stronger than the scale goes.
                assert_eq!(shown_on(scale, fluid, f), None, "{at}");
                continue;
            };
            shows.see(shown_on(scale, fluid, f).unwrap() - table, at.clone());
            let reading = Reading::new(scale, table);
            let found = reading.truly(fluid).unwrap();
            truly.see(found.freezes_c - row.number(freezes), at.clone());
            percent.see(100.0 * (found.f - f), at.clone());
            assert!((found.too_cold_by_c + row.number(off)).abs() < 0.15, "{at}");
            let refused = reading.strength_of(fluid).unwrap_err();
            assert!(
                matches!(refused, NoStrength::OtherScale { .. }),
                "{refused}"
            );
        }
    }
    shows.lies(-0.15..=0.15, 15);
    truly.lies(-0.15..=0.15, 15);
    percent.lies(-0.1..=0.1, 15);
}

/// ASTM D3321, read in the source: right within 1 °C, and the wrong scale may be off by 10 °C (18 °F)
/// or more. The tables here end a little before that.
#[test]
fn the_wrong_scale_is_off_by_as_much_as_the_standard_warns() {
    let strong = Reading::new(Glycol::Eg, -47.0).truly(Glycol::Pg).unwrap();
    assert!((9.5..12.0).contains(&strong.too_cold_by_c), "{strong:?}");
    let own = Reading::new(Glycol::Eg, -37.0).strength_of(Glycol::Eg);
    let Ok(Read::Of(read)) = own else {
        panic!("{own:?}");
    };
    assert!((read.promise_c - -36.0).abs() < 1e-12);
}
