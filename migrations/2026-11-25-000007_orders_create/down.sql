DROP TABLE orders_order;
