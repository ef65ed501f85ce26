//! What ids and digests in facts are called on a page.

use std::collections::{BTreeSet, HashMap};

use domain::fleet::Person;
use domain::ids::{InstrumentId, PersonId, PlaceId, ShopId, UnitId};
use domain::job::{Account, Line};
use domain::words::Text;
use storage::{PlaceName, Read};

use crate::WebError;
use crate::intake::derived::USUAL_LOOP;

/// Everything a page wants to name.
#[derive(Clone, Debug, Default)]
pub(crate) struct Wanted {
    pub(crate) places: BTreeSet<PlaceId>,
    pub(crate) people: BTreeSet<PersonId>,
    pub(crate) instruments: BTreeSet<InstrumentId>,
    /// Digests of notes, reasons and names.
    pub(crate) texts: BTreeSet<String>,
}

impl Wanted {
    pub(crate) fn place(&mut self, account: Account) {
        self.places.extend(account.place());
    }

    /// The places and instruments of one line of a job.
    pub(crate) fn line(&mut self, line: &Line) {
        match line {
            Line::Movement(movement) => {
                self.place(movement.from);
                self.place(movement.to);
                self.instruments.extend(movement.gauge);
            }
            Line::Reading(reading) => {
                self.place(reading.place);
                self.instruments.extend(reading.instrument);
            }
            Line::Dip(dip) => {
                self.place(dip.place);
                self.instruments.extend(dip.gauge);
            }
        }
    }

    pub(crate) fn text(&mut self, text: Option<&Text>) {
        self.texts
            .extend(text.and_then(Text::digest).map(str::to_owned));
    }
}

/// What was found for them.
#[derive(Clone, Debug, Default)]
pub(crate) struct Names {
    places: HashMap<PlaceId, PlaceName>,
    people: HashMap<PersonId, Person>,
    instruments: HashMap<InstrumentId, String>,
    texts: HashMap<String, String>,
    shops: HashMap<ShopId, String>,
}

impl Names {
    pub(crate) async fn of(read: &mut Read, wanted: Wanted) -> Result<Self, WebError> {
        let places: Vec<PlaceId> = wanted.places.into_iter().collect();
        let found = read
            .list_place_names(&places)
            .await
            .map_err(WebError::fault)?;
        let mut names = Self {
            places: found
                .into_iter()
                .map(|named| (named.place, named))
                .collect(),
            ..Self::default()
        };
        let mut texts = wanted.texts;
        for id in wanted.people {
            if let Some(person) = read.find_person(id).await.map_err(WebError::fault)? {
                texts.extend(
                    person
                        .name
                        .as_ref()
                        .and_then(Text::digest)
                        .map(str::to_owned),
                );
                names.people.insert(id, person);
            }
        }
        for id in wanted.instruments {
            if let Some(found) = read.find_instrument(id).await.map_err(WebError::fault)? {
                names.instruments.insert(id, found.tag);
            }
        }
        let shops = read.list_shops().await.map_err(WebError::fault)?;
        names.shops = shops.into_iter().map(|shop| (shop.id, shop.name)).collect();
        let digests: Vec<&str> = texts.iter().map(String::as_str).collect();
        names.texts = read.list_texts(&digests).await.map_err(WebError::fault)?;
        Ok(names)
    }

    /// "Cart A", "4204", "4204 battery"; none where nobody has a card for it.
    pub(crate) fn find_place(&self, id: PlaceId) -> Option<String> {
        let named = self.places.get(&id)?;
        Some(match &named.unit {
            Some((_, number)) if named.name == USUAL_LOOP => number.clone(),
            Some((_, number)) => format!("{number} {}", named.name),
            None => named.name.clone(),
        })
    }

    /// The same, or that there is no card.
    pub(crate) fn place(&self, id: PlaceId) -> String {
        self.find_place(id)
            .unwrap_or_else(|| "a place without a card".to_owned())
    }

    /// The unit a loop belongs to.
    pub(crate) fn unit_of(&self, id: PlaceId) -> Option<UnitId> {
        self.places.get(&id)?.unit.as_ref().map(|(unit, _)| *unit)
    }

    /// The page of a loop's unit or of a vessel; none where nobody has a card.
    pub(crate) fn address_of(&self, id: PlaceId) -> Option<String> {
        self.places.get(&id)?;
        Some(match self.unit_of(id) {
            Some(unit) => format!("/units/{unit}"),
            None => format!("/vessels/{id}"),
        })
    }

    /// "P3, Cessa Durnhollow".
    pub(crate) fn person(&self, id: Option<PersonId>) -> String {
        let Some(id) = id else {
            return "nobody named".to_owned();
        };
        let Some(person) = self.people.get(&id) else {
            return "somebody without a card".to_owned();
        };
        match &person.name {
            None => person.handle.clone(),
            Some(name) => format!("{}, {}", person.handle, self.text(name, "name removed")),
        }
    }

    /// "P3".
    pub(crate) fn handle(&self, id: Option<PersonId>) -> String {
        let Some(id) = id else {
            return "nobody named".to_owned();
        };
        let person = self.people.get(&id);
        person.map_or_else(
            || "somebody without a card".to_owned(),
            |person| person.handle.clone(),
        )
    }

    pub(crate) fn shop(&self, id: ShopId) -> String {
        let name = self.shops.get(&id);
        name.map_or_else(|| "a shop without a card".to_owned(), Clone::clone)
    }

    pub(crate) fn instrument(&self, id: InstrumentId) -> String {
        let tag = self.instruments.get(&id);
        tag.map_or_else(|| "an instrument without a card".to_owned(), Clone::clone)
    }

    /// A note, reason or name; `removed` where it was taken away.
    pub(crate) fn text(&self, text: &Text, removed: &str) -> String {
        match text {
            Text::Plain(plain) => plain.clone(),
            Text::Digest(digest) => {
                let found = self.texts.get(digest);
                found.map_or_else(|| removed.to_owned(), Clone::clone)
            }
        }
    }

    /// The text behind a digest.
    pub(crate) fn find_text(&self, digest: &str) -> Option<&str> {
        self.texts.get(digest).map(String::as_str)
    }
}
