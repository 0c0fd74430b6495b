delete from mote_reference where mote in (from reach select mote)
