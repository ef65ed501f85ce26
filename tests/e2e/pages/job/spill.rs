//! Spill.

use domain::job::{Account, Line};

use super::paper::{Paper, contents, place};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

#[test]
fn what_ran_out_of_a_loop_or_a_vessel_is_gone_from_it() {
    let shop = Shop::open();
    let unit = Paper::on_unit(&shop, TECHNICIAN, ("3305", "spill"));
    let cart = Paper::on_vessel(&shop, TECHNICIAN, ("Cart A", "spill"));
    for (paper, name, own) in [
        (unit, "3305", Account::Loop(place(&shop, "3305"))),
        (cart, "Cart A", Account::Vessel(place(&shop, "Cart A"))),
    ] {
        let before = contents(&shop, name).shown_ml;
        let saved = paper.with("volume", "1.5").saved(&shop, TECHNICIAN);
        let [Line::Movement(spilled)] = &saved.job.lines[..] else {
            panic!()
        };
        assert_eq!((spilled.from, spilled.to), (own, Account::Spilled));
        assert_eq!(saved.job.place, Some(own));
        let lost = before - contents(&shop, name).shown_ml;
        assert!((lost - 1_500).abs() < 10, "{name}: {lost}");
    }
    shop.book_is_closed();
}

#[test]
fn a_spill_of_nothing_is_none() {
    let shop = Shop::open();
    for volume in ["", "0"] {
        let paper = Paper::on_unit(&shop, TECHNICIAN, ("3305", "spill")).with("volume", volume);
        assert_eq!(paper.refused(&shop, TECHNICIAN).len(), 1, "{volume}");
    }
}
