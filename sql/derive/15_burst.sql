delete from burst where rowid in (select place from gone);
insert into burst by name
select columns(lambda name: not starts_with(name, 'reading_')) from changed
