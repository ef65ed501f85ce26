//! What was stated of containers, and vessels as they stand by it.

use super::{PlaceContents, Read, order};
use crate::error::StorageError;
use crate::record::json;
use chrono::NaiveDate;
use domain::book::Order;
use domain::fact::ContainerChange;
use domain::fleet::Vessel;
use domain::ids::{PersonId, PlaceId, ShopId};
use domain::waste::Stated;
use std::collections::HashMap;
use uuid::Uuid;

/// A vessel as it stands.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct VesselNow {
    /// Its card.
    pub card: Vessel,
    /// What it holds; none when no fact touched it yet.
    pub held: Option<PlaceContents>,
    /// What was stated of it as a container and is of what it holds.
    pub stated: Stated,
}

/// Something that was stated of a container.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ContainerRow {
    /// Place in the record.
    pub seq: i64,
    /// The container.
    pub vessel: PlaceId,
    /// Where it stands in the order of the book: when it happened, was made, its key.
    pub order: Order,
    /// The day, in the shop's own dates.
    pub day: NaiveDate,
    /// Who stated it.
    pub by: Option<PersonId>,
    /// What.
    pub event: ContainerChange,
}

struct EventRow {
    seq: i64,
    vessel: Uuid,
    happened_at: i64,
    made_at: i64,
    key: Uuid,
    day: String,
    person: Option<Uuid>,
    event: String,
}

impl EventRow {
    fn event(self) -> Result<ContainerRow, StorageError> {
        let corrupt = |column| StorageError::corrupt("container_events", self.seq, column);
        Ok(ContainerRow {
            vessel: PlaceId(self.vessel),
            order: order(self.happened_at, self.made_at, self.key),
            day: self.day.parse().map_err(|_| corrupt("day"))?,
            by: self.person.map(PersonId),
            event: serde_json::from_str(&self.event).map_err(|_| corrupt("event"))?,
            seq: self.seq,
        })
    }
}

impl Read {
    /// The vessels of a shop, by name, as they stand.
    pub async fn list_vessels_of_shop_with_contents(
        &mut self,
        shop: ShopId,
    ) -> Result<Vec<VesselNow>, StorageError> {
        let vessels = self.list_vessels(shop).await?;
        self.as_they_stand(vessels).await
    }

    /// A vessel as it stands.
    pub async fn vessel_as_it_stands(&mut self, card: Vessel) -> Result<VesselNow, StorageError> {
        let alone = VesselNow {
            card: card.clone(),
            held: None,
            stated: Stated::default(),
        };
        let found = self.as_they_stand(vec![card]).await?;
        Ok(found.into_iter().next().unwrap_or(alone))
    }

    async fn as_they_stand(
        &mut self,
        vessels: Vec<Vessel>,
    ) -> Result<Vec<VesselNow>, StorageError> {
        let places: Vec<PlaceId> = vessels.iter().map(|vessel| vessel.id).collect();
        let held = self.list_places(&places).await?.into_iter();
        let mut held: HashMap<PlaceId, PlaceContents> =
            held.map(|contents| (contents.place, contents)).collect();
        let mut events: HashMap<PlaceId, Vec<ContainerRow>> = HashMap::new();
        for event in self.list_what_stands(&places).await? {
            events.entry(event.vessel).or_default().push(event);
        }
        let stands = vessels.into_iter().map(|card| {
            let held = held.remove(&card.id);
            let own = events.remove(&card.id).unwrap_or_default();
            let emptied = held.as_ref().and_then(|held| held.emptied);
            let stated = Stated::of(
                (card.start_date, emptied),
                own.iter()
                    .map(|row| (row.order.happened, row.day, &row.event)),
            );
            VesselNow { card, held, stated }
        });
        Ok(stands.collect())
    }

    /// The latest of each kind that was stated of some containers, in the order of the book: later
    /// ones of a kind take the place of earlier ones, so no more is needed to say how each stands.
    async fn list_what_stands(
        &mut self,
        vessels: &[PlaceId],
    ) -> Result<Vec<ContainerRow>, StorageError> {
        let vessels = json(vessels)?;
        let rows = sqlx::query_as!(
            EventRow,
            r#"select stated.seq as "seq!", stated.vessel as "vessel!: Uuid",
                      stated.happened_at as "happened_at!", stated.made_at as "made_at!",
                      stated.key as "key!: Uuid", stated.day as "day!",
                      stated.person as "person: Uuid", stated.event as "event!"
               from json_each(?1) as wanted
                 cross join json_each(
                   '["start_date","labelled","closed","inspected","placed"]') as each
                 cross join container_events as stated on stated.seq =
                   (select latest.seq
                    from container_events as latest indexed by container_events_of_kind
                    where latest.vessel = unhex(wanted.value, '-') and latest.kind = each.value
                    order by latest.happened_at desc, latest.made_at desc, latest.key desc
                    limit 1)"#,
            vessels
        )
        .fetch_all(self.connection())
        .await?;
        let rows = rows.into_iter().map(EventRow::event);
        let mut rows = rows.collect::<Result<Vec<_>, _>>()?;
        rows.sort_by_key(|row| row.order);
        Ok(rows)
    }

    /// What was stated of a container under one kind (see [`ContainerChange::code`]), the latest
    /// first.
    pub async fn list_container_events(
        &mut self,
        (vessel, kind): (PlaceId, &str),
        most: i64,
    ) -> Result<Vec<ContainerRow>, StorageError> {
        let rows = sqlx::query_as!(
            EventRow,
            r#"select seq, vessel as "vessel: Uuid", happened_at, made_at, key as "key: Uuid", day,
                      person as "person: Uuid", event
               from container_events indexed by container_events_of_kind
               where vessel = ?1 and kind = ?2
               order by happened_at desc, made_at desc, key desc limit ?3"#,
            vessel.0,
            kind,
            most
        )
        .fetch_all(self.connection())
        .await?;
        rows.into_iter().map(EventRow::event).collect()
    }
}
