DROP TABLE kit_lots_kit_lot;
