DROP TABLE holds_hold;
