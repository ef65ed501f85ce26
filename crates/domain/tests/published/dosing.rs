//! What heat and mixing do to a dose.

use super::Apart;
use super::table::{Row, rows};
use domain::fluid::dosing::{Hot, Portion, mixed};
use domain::fluid::freeze_point::freeze_c;

/// Worked out in Python from the same densities; five digits printed, of what went in as well, which is
/// 0.0005 L of 10 L. The densities there come from an earlier cut of the same fit: 0.004 % apart, a
/// twentieth of what the fit is from ASHRAE.
#[test]
fn a_hot_drain_comes_out_as_worked_out_elsewhere() {
    let mut litres = Apart::new("litres at 20 °C");
    let mut percent = Apart::new("percent after it");
    let mut freeze = Apart::new("error of the freeze point, °C");
    for row in rows(include_str!("../../tables/ref_hot_drain_error.csv")) {
        let hot = Hot {
            glycol: row.glycol(),
            t_c: row.number("t_hot_c"),
            f: row.number("c0"),
        };
        let at = format!("{hot:?}");
        let drained_l = row.number("drained_hot_l");
        let cold_l = hot.to_20c_l(drained_l).unwrap();
        litres.see(cold_l - row.number("drained_as_20c_l"), at.clone());
        assert!((hot.from_20c_l(cold_l).unwrap() - drained_l).abs() < 1e-9);
        // The table is for 40 L.
        let after = hot.share_after(40.0, drained_l, row.number("c_refill"));
        let after = after.unwrap();
        percent.see(100.0 * after - row.number("fraction_after_pct"), at.clone());
        let meant_c = freeze_c(hot.glycol, row.number("c_target"));
        let off = freeze_c(hot.glycol, after) - meant_c;
        freeze.see(off - row.number("freeze_error_c"), at);
    }
    litres.lies(-1e-3..=1e-3, 10);
    percent.lies(-2e-3..=2e-3, 10);
    freeze.lies(-3e-3..=3e-3, 10);
}

/// An exact mass balance in Python with the densities of CRC (EG) and of J. Phys. Chem. 1967 (PG), in
/// 40 L. The fit of the shrinking is 0.01 and 0.04 % off those densities: 0.004 and 0.016 L of 40 L,
/// taken from every portion and given back by the whole. Concentrate is outside those fits by nothing,
/// since a part alone does not shrink.
#[test]
fn the_drop_of_the_level_comes_out_as_by_mass_balance() {
    let mut level = Apart::new("level, L");
    let mut percent = Apart::new("percent");
    let mut full = Apart::new("level when topped to full, L");
    let mut topped = Apart::new("percent when topped to full");
    for row in rows(include_str!("../../tables/ref_contraction_in_dosing.csv")) {
        let (capacity_l, exchanged_l) = (row.number("capacity_l"), row.number("naive_exchange_l"));
        let mix = |put_in_l| {
            let old = Portion {
                shown_l: capacity_l - exchanged_l,
                f: row.number("c0"),
            };
            let new = Portion {
                shown_l: put_in_l,
                f: row.number("c_refill"),
            };
            mixed(row.glycol(), &[old, new]).unwrap()
        };
        let at = format!("{} {}", row.text("glycol"), row.text("case"));
        let once = mix(exchanged_l);
        level.see(once.level_l - row.number("level_after_l"), at.clone());
        assert!(
            (once.level_l + once.drop_l - capacity_l).abs() < 1e-9,
            "{at}"
        );
        let error_percent = -100.0 * once.drop_l / capacity_l;
        assert!(
            (error_percent - row.number("level_error_pct")).abs() < 0.05,
            "{at}"
        );
        percent.see(
            100.0 * once.f - row.number("fraction_after_pct"),
            at.clone(),
        );
        let whole = mix(row.number("refill_to_full_l"));
        full.see(whole.level_l - capacity_l, at.clone());
        let table = row.number("fraction_if_topped_full_pct");
        topped.see(100.0 * whole.f - table, at);
    }
    level.lies(-0.02..=0.02, 16);
    percent.lies(-0.015..=0.015, 16);
    full.lies(-0.02..=0.02, 16);
    topped.lies(-0.015..=0.015, 16);
}
