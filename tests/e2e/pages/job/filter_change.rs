//! Filter change.

use domain::gate::Breach;
use domain::job::Details;

use super::paper::{Paper, contents};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;
/// Kept for IAT+SCA.
const SCHOOL_BUS: &str = "4507";
/// Kept for OAT.
const PLOW: &str = "3305";

fn changed(shop: &Shop, unit: &str, values: &[(&str, &str)]) -> Paper {
    Paper::on_unit(shop, TECHNICIAN, (unit, "filter_change"))
        .with_all(&[("gate_temperature", "20"), ("gate_pressure", "0")])
        .with_all(values)
}

#[test]
fn a_filter_with_additive_goes_on_coolant_that_takes_it() {
    let shop = Shop::open();
    let before = contents(&shop, SCHOOL_BUS).shown_ml;
    let paper = changed(
        &shop,
        SCHOOL_BUS,
        &[("charged", "yes"), ("additive_units", "4.5")],
    );
    let saved = paper.saved(&shop, TECHNICIAN);
    assert_eq!(
        saved.job.details,
        Some(Details::FilterChange {
            charged: true,
            additive_tenths: 45
        })
    );
    assert!(saved.breaches().is_empty());
    assert_eq!(contents(&shop, SCHOOL_BUS).shown_ml, before);
}

#[test]
fn and_on_no_other_unless_it_has_happened() {
    let shop = Shop::open();
    changed(&shop, PLOW, &[("charged", "no")]).saved(&shop, TECHNICIAN);
    let paper = changed(&shop, PLOW, &[("charged", "yes")]);
    let problems = paper.refused(&shop, TECHNICIAN).join("");
    assert!(problems.contains("This loop holds OAT"), "{problems}");
    let unexplained = paper.with("happened", "yes");
    let problems = unexplained.refused(&shop, TECHNICIAN).join("");
    assert!(
        problems.contains("write why, for whoever checks"),
        "{problems}"
    );
    let saved = paper.happened().saved(&shop, TECHNICIAN);
    assert_eq!(saved.breaches(), [Breach::ChargedFilter]);
}

#[test]
fn additive_is_counted_in_tenths_and_only_where_there_is_some() {
    let shop = Shop::open();
    for (charged, units) in [("no", "2"), ("yes", "2.25"), ("yes", "101")] {
        let paper = changed(
            &shop,
            SCHOOL_BUS,
            &[("charged", charged), ("additive_units", units)],
        );
        assert_eq!(paper.refused(&shop, TECHNICIAN).len(), 1, "{units}");
    }
}
