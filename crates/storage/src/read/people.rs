//! People of all shops.

use super::Read;
use super::card::person;
use crate::error::StorageError;
use crate::record;
use domain::fleet::{Person, Role};
use uuid::Uuid;

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
}
