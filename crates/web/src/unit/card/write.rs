//! Takes a card in, with what follows from it: loops retired, openings of new loops.

use domain::fact::{Opening, Retired, What};
use domain::fleet::{Role, Unit};
use domain::ids::{FactKey, PlaceId};
use domain::job::Account;
use domain::moment::Moment;
use domain::words::Text;
use storage::Read;

use super::draft::{Draft, Fit};
use crate::WebError;
use crate::card::{self, Saved, Saving};
use crate::desk::Desk;
use crate::intake::derived;

/// A card about to be saved.
#[derive(Clone, Debug)]
pub(in crate::unit) struct UnitSaving {
    pub(in crate::unit) key: FactKey,
    pub(in crate::unit) card: Unit,
    /// What is recorded once the card is, each under a key of its own.
    pub(in crate::unit) followers: Vec<(FactKey, What)>,
    /// When the card before takes its place.
    pub(in crate::unit) after: Option<Moment>,
    /// The form as it was sent: sent again, it gets the same answer.
    pub(in crate::unit) as_sent: Vec<u8>,
}

/// The card first: whoever was faster has its key, and then nothing else is recorded.
pub(in crate::unit) async fn save(desk: &Desk, saving: UnitSaving) -> Result<Saved, WebError> {
    let UnitSaving {
        key,
        card,
        followers,
        after,
        as_sent,
    } = saving;
    let saving = |key, what| Saving {
        key,
        what,
        after,
        as_sent: as_sent.clone(),
        acting: &[Role::Manager, Role::LeadHand],
    };
    let saved = card::save(desk, saving(key, What::Unit(card))).await?;
    if saved != Saved::OnRecord {
        return Ok(saved);
    }
    for (key, what) in followers {
        // A loop that another form retired already is retired all the same.
        if card::save(desk, saving(key, what)).await? == Saved::NotConfirmed {
            return Ok(Saved::NotConfirmed);
        }
    }
    Ok(Saved::OnRecord)
}

/// The card of a draft: loops on record keep their ids, new ones get theirs here. Loops that were
/// taken off are left out, and retired where they ever held anything.
pub(in crate::unit) async fn card_with_ids(
    read: &mut Read,
    (draft, key): (&Draft, FactKey),
    base: &Unit,
) -> Result<(Unit, Vec<(FactKey, What)>), WebError> {
    let mut loops = Vec::new();
    let mut followers = Vec::new();
    let reason = draft.reason.as_deref().and_then(Text::plain);
    for each in &draft.loops {
        match (each.id, each.fit) {
            (Some(id), Fit::On) => loops.push(each.loop_of(id)),
            (Some(id), Fit::Gone) => {
                let held = read.find_place(id).await.map_err(WebError::fault)?;
                if held.is_some() {
                    let retired = Retired {
                        unit: None,
                        places: vec![Account::Loop(id)],
                        reason: reason.clone(),
                    };
                    let key = derived::fact_key("retire loop", &[&id.to_string()]);
                    followers.push((key, What::Retired(retired)));
                }
            }
            (None, _) => {
                let id = free_place(read, (base, &each.name), key).await?;
                loops.push(each.loop_of(id));
                if let Some(strength) = &each.opening {
                    let opening = Opening {
                        place: Account::Loop(id),
                        volume: None,
                        strength: Some(strength.clone()),
                        fluid: None,
                    };
                    let key = derived::fact_key(
                        "opening of a new loop",
                        &[&id.to_string(), &key.to_string()],
                    );
                    followers.push((key, What::Opening(opening)));
                }
            }
        }
    }
    let card = Unit {
        id: base.id,
        number: draft.number.clone(),
        kind: draft.kind.clone(),
        shop: base.shop,
        engine_family: draft.engine_family.clone(),
        loops,
        reason,
    };
    Ok((card, followers))
}

/// The id of a new loop: the one that its name gives, so that jobs which named it before anybody
/// had a card for it are its own; another when that place has been in use on a card before.
pub(in crate::unit) async fn free_place(
    read: &mut Read,
    (unit, name): (&Unit, &str),
    key: FactKey,
) -> Result<PlaceId, WebError> {
    let by_name = derived::loop_id(&unit.number, name);
    let owns_its_number = unit.id == derived::unit_id(&unit.number);
    let in_use = unit.loops.iter().any(|each| each.id == by_name);
    let retired = read.is_retired(by_name.0).await.map_err(WebError::fault)?;
    if owns_its_number && !in_use && !retired {
        return Ok(by_name);
    }
    let (own, key) = (unit.id.to_string(), key.to_string());
    Ok(PlaceId(
        derived::fact_key("place of a new loop", &[&own, name, &key]).0,
    ))
}
