-- Photos of jobs. Their bytes lie in the folder photos beside this file, each under its digest.
create table photos (
  key blob not null primary key,
  seq integer not null,
  job blob not null,
  digest text not null,
  bytes integer not null,
  width integer not null,
  height integer not null,
  caption_digest text,
  at integer not null,
  person blob,
  constraint photos_key_on_record foreign key (key) references record (key)
) strict, without rowid;

create index photos_of_job on photos (job, seq);
create index photos_by_digest on photos (digest);

-- A photo that was taken out of sight stays named; its bytes are gone when no other photo has them.
create table photo_removals (
  key blob not null primary key,
  photo blob not null,
  constraint photo_removals_key_on_record foreign key (key) references record (key)
) strict, without rowid;

create index photo_removals_by_photo on photo_removals (photo);
