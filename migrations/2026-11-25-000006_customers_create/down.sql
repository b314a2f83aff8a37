DROP TABLE customers_customer;
