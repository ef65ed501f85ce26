//! Units, vessels, shops, people, instruments: the cards as they stand.

use super::Read;
use crate::error::StorageError;
use domain::fleet::{Fluid, Instrument, Person, Role, Shop, Site, Unit, Vessel};
use domain::ids::{InstrumentId, PersonId, PlaceId, ShopId, UnitId};
use serde::de::DeserializeOwned;
use uuid::Uuid;

pub(super) fn card<T: DeserializeOwned>(
    table: &'static str,
    id: Uuid,
    card: &str,
) -> Result<T, StorageError> {
    serde_json::from_str(card).map_err(|error| StorageError::corrupt(table, id, error.to_string()))
}

/// The shop of a card is the one it named; a move since then counts more.
fn unit(id: Uuid, shop: Uuid, text: &str) -> Result<Unit, StorageError> {
    let mut unit: Unit = card("units", id, text)?;
    unit.shop = ShopId(shop);
    Ok(unit)
}

fn vessel(id: Uuid, shop: Uuid, text: &str) -> Result<Vessel, StorageError> {
    let mut vessel: Vessel = card("vessels", id, text)?;
    vessel.shop = ShopId(shop);
    Ok(vessel)
}

pub(super) fn person(id: Uuid, shop: Option<Uuid>, text: &str) -> Result<Person, StorageError> {
    let mut person: Person = card("people", id, text)?;
    person.shop = shop.map(ShopId);
    Ok(person)
}

impl Read {
    /// A unit by its id.
    pub async fn find_unit(&mut self, id: UnitId) -> Result<Option<Unit>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", shop as "shop: Uuid", card from units where id = ?1"#,
            id.0
        )
        .fetch_optional(self.connection())
        .await?
        .map(|row| unit(row.id, row.shop, &row.card))
        .transpose()
    }

    /// A unit by the number painted on it; of several the one in use, then the last card.
    pub async fn find_unit_by_number(
        &mut self,
        number: &str,
    ) -> Result<Option<Unit>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", shop as "shop: Uuid", card from units
               where number = ?1
               order by exists (select 1 from retirements where subject = id),
                        happened_at desc, made_at desc, key desc
               limit 1"#,
            number
        )
        .fetch_optional(self.connection())
        .await?
        .map(|row| unit(row.id, row.shop, &row.card))
        .transpose()
    }

    /// The units of a shop, by number.
    pub async fn list_units(&mut self, shop: ShopId) -> Result<Vec<Unit>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", shop as "shop: Uuid", card from units
               where shop = ?1 order by number, id"#,
            shop.0
        )
        .fetch_all(self.connection())
        .await?
        .into_iter()
        .map(|row| unit(row.id, row.shop, &row.card))
        .collect()
    }

    /// A vessel by its id.
    pub async fn find_vessel(&mut self, id: PlaceId) -> Result<Option<Vessel>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", shop as "shop: Uuid", card from vessels where id = ?1"#,
            id.0
        )
        .fetch_optional(self.connection())
        .await?
        .map(|row| vessel(row.id, row.shop, &row.card))
        .transpose()
    }

    /// A vessel by the name on it, in a shop or anywhere; of several the one in use, then the
    /// last card.
    pub async fn find_vessel_by_name(
        &mut self,
        name: &str,
        shop: Option<ShopId>,
    ) -> Result<Option<Vessel>, StorageError> {
        let shop = shop.map(|shop| shop.0);
        sqlx::query!(
            r#"select id as "id: Uuid", shop as "shop: Uuid", card from vessels
               where name = ?1 and (?2 is null or shop = ?2)
               order by exists (select 1 from retirements where subject = id),
                        happened_at desc, made_at desc, key desc
               limit 1"#,
            name,
            shop
        )
        .fetch_optional(self.connection())
        .await?
        .map(|row| vessel(row.id, row.shop, &row.card))
        .transpose()
    }

    /// The vessels of a shop, by name.
    pub async fn list_vessels(&mut self, shop: ShopId) -> Result<Vec<Vessel>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", shop as "shop: Uuid", card from vessels
               where shop = ?1 order by name, id"#,
            shop.0
        )
        .fetch_all(self.connection())
        .await?
        .into_iter()
        .map(|row| vessel(row.id, row.shop, &row.card))
        .collect()
    }

    /// A shop by its id.
    pub async fn find_shop(&mut self, id: ShopId) -> Result<Option<Shop>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", card from shops where id = ?1"#,
            id.0
        )
        .fetch_optional(self.connection())
        .await?
        .map(|row| card("shops", row.id, &row.card))
        .transpose()
    }

    /// A shop by its name; of several the one with the last card.
    pub async fn find_shop_by_name(&mut self, name: &str) -> Result<Option<Shop>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", card from shops where name = ?1
               order by happened_at desc, made_at desc, key desc limit 1"#,
            name
        )
        .fetch_optional(self.connection())
        .await?
        .map(|row| card("shops", row.id, &row.card))
        .transpose()
    }

    /// All shops, by name.
    pub async fn list_shops(&mut self) -> Result<Vec<Shop>, StorageError> {
        sqlx::query!(r#"select id as "id: Uuid", card from shops order by name, id"#)
            .fetch_all(self.connection())
            .await?
            .into_iter()
            .map(|row| card("shops", row.id, &row.card))
            .collect()
    }

    /// All sites, by name.
    pub async fn list_sites(&mut self) -> Result<Vec<Site>, StorageError> {
        sqlx::query!(r#"select id as "id: Uuid", card from sites order by name, id"#)
            .fetch_all(self.connection())
            .await?
            .into_iter()
            .map(|row| card("sites", row.id, &row.card))
            .collect()
    }

    /// All fluids, by name.
    pub async fn list_fluids(&mut self) -> Result<Vec<Fluid>, StorageError> {
        sqlx::query!(r#"select id as "id: Uuid", card from fluids order by name, id"#)
            .fetch_all(self.connection())
            .await?
            .into_iter()
            .map(|row| card("fluids", row.id, &row.card))
            .collect()
    }

    /// An instrument by its id.
    pub async fn find_instrument(
        &mut self,
        id: InstrumentId,
    ) -> Result<Option<Instrument>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", card from instruments where id = ?1"#,
            id.0
        )
        .fetch_optional(self.connection())
        .await?
        .map(|row| card("instruments", row.id, &row.card))
        .transpose()
    }

    /// The instruments of a shop, by tag.
    pub async fn list_instruments(
        &mut self,
        shop: ShopId,
    ) -> Result<Vec<Instrument>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", card from instruments where shop = ?1 order by tag, id"#,
            shop.0
        )
        .fetch_all(self.connection())
        .await?
        .into_iter()
        .map(|row| card("instruments", row.id, &row.card))
        .collect()
    }

    /// A person by their id. The name is a digest: see [`Read::find_text`].
    pub async fn find_person(&mut self, id: PersonId) -> Result<Option<Person>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", shop as "shop: Uuid", card from people where id = ?1"#,
            id.0
        )
        .fetch_optional(self.connection())
        .await?
        .map(|row| person(row.id, row.shop, &row.card))
        .transpose()
    }

    /// A person by their handle; of several the one who works here, then the last card.
    pub async fn find_person_by_handle(
        &mut self,
        handle: &str,
    ) -> Result<Option<Person>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", shop as "shop: Uuid", card from people
               where handle = ?1
               order by active desc, happened_at desc, made_at desc, key desc limit 1"#,
            handle
        )
        .fetch_optional(self.connection())
        .await?
        .map(|row| person(row.id, row.shop, &row.card))
        .transpose()
    }

    /// The people of a shop, by handle.
    pub async fn list_people(&mut self, shop: ShopId) -> Result<Vec<Person>, StorageError> {
        sqlx::query!(
            r#"select id as "id: Uuid", shop as "shop: Uuid", card from people
               where shop = ?1 order by handle, id"#,
            shop.0
        )
        .fetch_all(self.connection())
        .await?
        .into_iter()
        .map(|row| person(row.id, row.shop, &row.card))
        .collect()
    }

    /// The roles a person holds in a shop, with those held everywhere.
    pub async fn list_roles(
        &mut self,
        person: PersonId,
        shop: ShopId,
    ) -> Result<Vec<Role>, StorageError> {
        let rows = sqlx::query_scalar!(
            "select roles from roles where person = ?1 and shop in (?2, x'')",
            person.0,
            shop.0
        )
        .fetch_all(self.connection())
        .await?;
        let mut all = Vec::new();
        for row in rows {
            all.extend(card::<Vec<Role>>("roles", person.0, &row)?);
        }
        all.sort_unstable();
        all.dedup();
        Ok(all)
    }

    /// Whether a unit or place was retired.
    pub async fn is_retired(&mut self, subject: Uuid) -> Result<bool, StorageError> {
        Ok(sqlx::query_scalar!(
            r#"select exists (select 1 from retirements where subject = ?1) as "is: bool""#,
            subject
        )
        .fetch_one(self.connection())
        .await?)
    }
}
