-- What was measured within one hour stands together: hour by hour it is published.
delete from burst where rowid in (select place from gone);
insert into burst by name
select columns(lambda name: not starts_with(name, 'reading_')) from changed
order by epoch_us(sampled_at) // 3600000000
