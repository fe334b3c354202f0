"""What is encoded: GTINs, links, QR symbols and retail bars."""
