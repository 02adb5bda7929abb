"""What the vehicle does: ground, driver, tyres, chassis, dampers, valves, sensors, and the closed loop round them."""
