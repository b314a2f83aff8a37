DROP TABLE equipment_check;
DROP TABLE equipment_item;
