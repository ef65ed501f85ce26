//! Units: the list, one unit, its card, and how it goes out of use.

mod capacity;
mod card;
mod label;
mod list;
mod retire;
mod show;
mod two_people;

use super::shop::{As, Shop};

/// The address of a unit by its number.
fn address(shop: &Shop, number: &str) -> String {
    let answer = shop.get(As::Reader, &format!("/units?text={number}"));
    assert_eq!(answer.status, 303, "{number}: {}", answer.body);
    answer.header("location").unwrap().to_owned()
}
