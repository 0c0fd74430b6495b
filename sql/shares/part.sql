-- The parts of all shares are the parts of the warehouse.
delete from work.part;
insert into work.part by name
select table_name, hour_at, part, row_count, byte_count
from work.share_part
