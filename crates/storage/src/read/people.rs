//! People of all shops.

use super::Read;
use super::card::{card, person};
use crate::error::StorageError;
use crate::record;
use domain::fleet::{Person, Role, Roles};
use domain::ids::{PersonId, ShopId};
use domain::moment::Moment;
use uuid::Uuid;

/// Somebody with the roles they hold, one entry for each shop and one for everywhere.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Staff {
    /// Who.
    pub person: Person,
    /// Since when their card stands as it is; of somebody who left, when they did.
    pub card_since: Moment,
    /// Their roles; an entry without any is one that was taken away.
    pub roles: Vec<Roles>,
    /// When the last of them was given or taken away; none before the first.
    pub roles_since: Option<Moment>,
}

impl Read {
    /// Everybody who works here and holds one of these roles, anywhere, by handle.
    pub async fn list_holders(&mut self, roles: &[Role]) -> Result<Vec<Person>, StorageError> {
        let roles = record::json(roles)?;
        sqlx::query!(
            r#"select id as "id: Uuid", shop as "shop: Uuid", card from people
               where active and exists (
                 select 1 from roles, json_each(roles.roles) as held
                 where roles.person = people.id
                   and held.value in (select value from json_each(?1))
               )
               order by length(handle), handle, id"#,
            roles
        )
        .fetch_all(self.connection())
        .await?
        .into_iter()
        .map(|row| person(row.id, row.shop, &row.card))
        .collect()
    }

    /// The people of a shop and those of none, who may work in all of them; everybody when no shop
    /// is named. Those who work here come first, then by handle.
    pub async fn list_staff(&mut self, shop: Option<ShopId>) -> Result<Vec<Staff>, StorageError> {
        let shop = shop.map(|shop| shop.0);
        let rows = sqlx::query_as!(
            StaffRow,
            r#"select people.id as "id: Uuid", people.shop as "shop: Uuid", people.card,
                      people.happened_at as card_since, roles.shop as "held_in: Vec<u8>",
                      roles.roles as "held: String", roles.happened_at as "held_since: i64"
               from people left join roles on roles.person = people.id
               where ?1 is null or people.shop is null or people.shop = ?1
               order by people.active desc, length(handle), handle, people.id, roles.shop"#,
            shop
        )
        .fetch_all(self.connection())
        .await?;
        staff(rows)
    }

    /// Somebody with their roles.
    pub async fn find_staff(&mut self, id: PersonId) -> Result<Option<Staff>, StorageError> {
        let rows = sqlx::query_as!(
            StaffRow,
            r#"select people.id as "id: Uuid", people.shop as "shop: Uuid", people.card,
                      people.happened_at as card_since, roles.shop as "held_in: Vec<u8>",
                      roles.roles as "held: String", roles.happened_at as "held_since: i64"
               from people left join roles on roles.person = people.id
               where people.id = ?1
               order by roles.shop"#,
            id.0
        )
        .fetch_all(self.connection())
        .await?;
        Ok(staff(rows)?.pop())
    }
}

struct StaffRow {
    id: Uuid,
    shop: Option<Uuid>,
    card: String,
    card_since: i64,
    held_in: Option<Vec<u8>>,
    held: Option<String>,
    held_since: Option<i64>,
}

/// Rows of one person follow one another.
fn staff(rows: Vec<StaffRow>) -> Result<Vec<Staff>, StorageError> {
    let mut all: Vec<Staff> = Vec::new();
    for row in rows {
        if all.last().is_none_or(|last| last.person.id.0 != row.id) {
            all.push(Staff {
                person: person(row.id, row.shop, &row.card)?,
                card_since: Moment(row.card_since),
                roles: Vec::new(),
                roles_since: None,
            });
        }
        let Some((last, (held_in, held))) = all.last_mut().zip(row.held_in.zip(row.held)) else {
            continue;
        };
        last.roles_since = last.roles_since.max(row.held_since.map(Moment));
        // An empty shop stands for everywhere.
        let shop = Uuid::from_slice(&held_in).ok().map(ShopId);
        last.roles.push(Roles {
            person: last.person.id,
            shop,
            roles: card("roles", row.id, &held)?,
        });
    }
    Ok(all)
}
