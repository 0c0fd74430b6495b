-- What the register no longer names leaves the warehouse.
delete from burst where mote not in (select mote from mote);
delete from reading where mote not in (select mote from mote) or measure not in (select measure from measure);
delete from mote_minute where mote not in (select mote from mote) or measure not in (select measure from measure);
delete from mote_reference where mote not in (select mote from mote) or measure not in (select measure from measure);
delete from zone_minute where zone not in (select zone from zone) or measure not in (select measure from measure);
delete from work.hearing where mote not in (select mote from mote);
delete from work.duplicate where mote not in (select mote from mote);
