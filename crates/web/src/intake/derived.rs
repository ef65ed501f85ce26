//! Ids worked out from names.
//!
//! A job may name a unit or vessel that nobody has a card for. Its place then gets the id worked
//! out here, and a card that is written later for the same name gets the same id, so that the job
//! and the card meet. The same holds for keys: a row of a file has the key of its contents, so
//! that reading the file again writes nothing twice.

use domain::ids::{FactKey, PersonId, PlaceId, ShopId, SiteId, UnitId};
use sha2::{Digest, Sha256};
use unicode_normalization::UnicodeNormalization;
use uuid::Uuid;

/// Keeps these ids apart from those of any other program. Never changed: ids on record depend on
/// it.
const LABEL: &str = "coolant-ledger derived id 1";

/// The loop a unit is taken to have when nobody has named one.
pub const USUAL_LOOP: &str = "engine";

/// A name as it is compared: normal form C, lower case, single spaces, none at the ends.
pub fn normal_name(name: &str) -> String {
    let composed: String = name.nfc().collect();
    let words: Vec<String> = composed.split_whitespace().map(str::to_lowercase).collect();
    words.join(" ")
}

/// The id of a unit by its number.
pub fn unit_id(number: &str) -> UnitId {
    UnitId(id("unit", &[&normal_name(number)]))
}

/// The id of a unit's loop.
pub fn loop_id(number: &str, name: &str) -> PlaceId {
    PlaceId(id("loop", &[&normal_name(number), &normal_name(name)]))
}

/// The id of a vessel by the name of its shop and its own: each shop may have a "Cart A".
pub fn vessel_id(shop: &str, name: &str) -> PlaceId {
    PlaceId(id("vessel", &[&normal_name(shop), &normal_name(name)]))
}

/// The id of a shop by its name.
pub fn shop_id(name: &str) -> ShopId {
    ShopId(id("shop", &[&normal_name(name)]))
}

/// The id of the site a shop is taken to stand on when nobody has named one.
pub fn site_id(name: &str) -> SiteId {
    SiteId(id("site", &[&normal_name(name)]))
}

/// The id of a person by the name of their shop and their handle.
pub fn person_id(shop: &str, handle: &str) -> PersonId {
    PersonId(id("person", &[&normal_name(shop), &normal_name(handle)]))
}

/// Signs of a unit code: Crockford's base 32, which has no I, L, O and U.
const CODE_SIGNS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// Signs of a unit code.
const CODE_LENGTH: u32 = 8;

/// The code on a unit's label: 40 bits worked out from its id. Labels that were printed depend on it.
pub fn unit_code(unit: UnitId) -> String {
    let bits = id("unit code", &[&unit.to_string()]).as_u128() >> 88;
    let five = |place: u32| usize::try_from((bits >> (5 * place)) & 31).ok();
    (0..CODE_LENGTH)
        .rev()
        .filter_map(|place| CODE_SIGNS.get(five(place)?))
        .map(|sign| char::from(*sign))
        .collect()
}

/// A unit code as somebody typed it: in small letters, in groups, with an O for a nought.
pub fn read_unit_code(typed: &str) -> Option<String> {
    let signs = typed.chars().filter(|sign| !matches!(sign, ' ' | '-'));
    let code: String = signs
        .map(|sign| match sign.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            other => other,
        })
        .take(9)
        .collect();
    let known = |sign: u8| CODE_SIGNS.contains(&sign);
    (code.len() == 8 && code.bytes().all(known)).then_some(code)
}

/// The key of a fact that is wholly told by `parts`.
pub fn fact_key(kind: &str, parts: &[&str]) -> FactKey {
    FactKey(id(&format!("fact {kind}"), parts))
}

/// SHA-256 over the parts, each with its length so that two cannot be told as one, as a UUID of
/// version 8.
fn id(kind: &str, parts: &[&str]) -> Uuid {
    let mut hasher = Sha256::new();
    for part in [LABEL, kind].iter().chain(parts) {
        let length = u64::try_from(part.len()).unwrap_or(u64::MAX);
        hasher.update(length.to_be_bytes());
        hasher.update(part.as_bytes());
    }
    let digest: [u8; 32] = hasher.finalize().into();
    let (half, _) = digest.split_at(16);
    let mut bytes = [0; 16];
    bytes.copy_from_slice(half);
    Uuid::new_v8(bytes)
}

#[cfg(test)]
mod tests {
    use super::{fact_key, loop_id, normal_name, read_unit_code, unit_code, unit_id, vessel_id};

    #[test]
    fn a_name_written_differently_is_the_same_name() {
        assert_eq!(normal_name("  Drum \u{a0} D-2 "), "drum d-2");
        assert_eq!(vessel_id("S", "drum d-2"), vessel_id(" s", " Drum  D-2"));
        // The umlaut as one character and as two.
        assert_eq!(vessel_id("S", "K\u{fc}bel"), vessel_id("S", "Ku\u{308}bel"));
        assert_ne!(vessel_id("S", "Drum D-2"), vessel_id("S", "Drum D-1"));
        assert_ne!(vessel_id("S", "Drum D-2"), vessel_id("T", "Drum D-2"));
    }

    #[test]
    fn kinds_and_parts_do_not_run_into_each_other() {
        assert_ne!(unit_id("7").0, vessel_id("", "7").0);
        assert_ne!(loop_id("1", "2 engine"), loop_id("1 2", "engine"));
        assert_ne!(fact_key("job", &["a", "b"]), fact_key("job", &["ab"]));
    }

    #[test]
    fn a_code_is_read_as_people_write_it_and_nothing_else_is_one() {
        let code = unit_code(unit_id("2107"));
        assert_eq!(read_unit_code(&code), Some(code.clone()));
        let (start, end) = code.split_at(4);
        let written = format!(" {}-{} ", start.to_lowercase(), end);
        assert_eq!(read_unit_code(&written), Some(code));
        assert_eq!(read_unit_code("oOil LAB2").as_deref(), Some("00111AB2"));
        for other in ["", "2107", "ABCDEFG", "ABCDEFGHJ", "ABCDEFGU", "ÄBCDEFG"] {
            assert_eq!(read_unit_code(other), None, "{other}");
        }
    }

    #[test]
    fn ids_stay_what_they_are() {
        // Worked out once and kept: a change here would part jobs on record from later cards.
        assert_eq!(
            unit_id("2107").to_string(),
            "149d8301-9dc9-831f-b754-3e13dbb7e870"
        );
        assert_eq!(unit_id("2107").0.get_version_num(), 8);
    }
}
