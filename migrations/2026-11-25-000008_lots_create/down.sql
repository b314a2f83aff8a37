DROP TABLE lots_party;
DROP TABLE lots_lot;
