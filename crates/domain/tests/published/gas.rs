//! The atmosphere and the factors of pressure.

use super::Apart;
use super::table::{Row, rows};
use domain::gas::atmosphere::standard;
use domain::gas::{GRAVITY_M_S2, PA_PER_INHG, PA_PER_PSI};

/// ISO 2533 in Python, six digits printed, and the Python library `fluids` 1.3.1, which takes heights
/// as geometric: 0.02 % up to 3,000 m, 0.033 % at 4,000 m.
#[test]
fn the_standard_atmosphere_comes_out() {
    let mut same = Apart::new("standard atmosphere, parts of 1");
    let mut library = Apart::new("against fluids, %");
    for row in rows(include_str!("../../tables/ref_isa_pressure.csv")) {
        let altitude_m = row.number("altitude_m");
        let at = format!("{altitude_m} m");
        let found = standard(altitude_m).unwrap();
        for (ours, column) in [
            (found.kpa(), "p_isa_kpa"),
            (found.inhg(), "p_inhg"),
            (found.psi(), "p_psi"),
        ] {
            same.see(ours / row.number(column) - 1.0, format!("{at} {column}"));
        }
        library.see(100.0 * (found.kpa() / row.number("p_fluids_kpa") - 1.0), at);
    }
    same.lies(-5e-6..=5e-6, 39);
    library.lies(-0.034..=0.0, 13);
}

/// NIST Special Publication 811 (2008), appendix B.8, from memory, and standard gravity (exact).
#[test]
fn factors_of_pressure_are_those_of_nist_sp_811() {
    for (found, published) in [
        (PA_PER_INHG, 3_386.389),
        (PA_PER_PSI, 6_894.757),
        (GRAVITY_M_S2, 9.806_65),
        // A pound-force a square inch by its definition: 0.45359237 kg × g ÷ 0.0254² m².
        (PA_PER_PSI, 0.453_592_37 * 9.806_65 / (0.0254 * 0.0254)),
        // Mercury at 0 °C weighs 13,595.1 kg/m³ by convention, and an inch is 0.0254 m.
        (PA_PER_INHG, 13_595.1 * 9.806_65 * 0.0254),
    ] {
        // Seven digits are printed.
        assert!(
            (found / published - 1.0).abs() < 5e-7,
            "{found} {published}"
        );
    }
}
