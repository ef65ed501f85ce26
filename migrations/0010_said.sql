-- What was said about questions, and who is asked to say something.
create table said (
  seq integer not null primary key,
  job blob not null,
  line integer not null,
  kind text not null,
  at integer not null,
  person blob,
  -- The person who is asked; none where somebody says what they know.
  asked blob,
  -- Digest of the words.
  words text,
  constraint said_seq_on_record foreign key (seq) references record (seq)
) strict;

create index said_of_question on said (job, line, kind, seq);
create index said_to on said (asked, seq) where asked is not null;

-- Names nobody proved, which their owners are shown.
create index questions_of_names on questions (shop, seq)
  where answer is null and kind = 'name_to_confirm';
