# For a small board with Wi-Fi that runs MicroPython: two pressure transducers and three
# thermistors, sent to a broker every two seconds.
import json
import math
import time

from machine import ADC, Pin

NETWORK, PASSWORD = "cellar", "not-this-one"
BROKER, LOG = "192.168.1.5", "seed-store"

SUPPLY = 3.3  # V, of the thermistors' dividers and the full scale of the converter
FIXED = 10_000.0  # ohm, between supply and pin; the thermistor goes from the pin to ground
R25, B = 10_000.0, 3950.0  # ohm at 25 degrees Celsius, and K, from the thermistor's data sheet

# Pin, name as in the log, and for a transducer its greatest pressure. It gives 0.5 V at nothing
# and 4.5 V at the greatest, and two resistors bring that to the pin: 10 kohm, then 20 kohm to
# ground.
THERMISTORS = ((32, "suction gas"), (33, "liquid line"), (34, "discharge gas"))
TRANSDUCERS = ((35, "suction gauge", 150.0), (36, "head gauge", 500.0))  # psi
DIVIDER = 20.0 / 30.0


def volts(adc):
    """Mean of sixteen looks at a pin."""
    return sum(adc.read_u16() for _ in range(16)) / 16 / 65535 * SUPPLY


def degrees(v):
    """Temperature of a thermistor in degrees Celsius, from the voltage at its pin."""
    resistance = FIXED * v / (SUPPLY - v)
    return 1.0 / (1.0 / 298.15 + math.log(resistance / R25) / B) - 273.15


def psi(v, most):
    """Gauge pressure of a transducer, from the voltage at its pin."""
    return (v / DIVIDER - 0.5) / 4.0 * most


def message(pins):
    """What is sent: one reading of every sensor, named and in its unit."""
    readings = [
        {"sensor": name, "value": round(degrees(volts(pins[pin])), 2), "unit": "degC"}
        for pin, name in THERMISTORS
    ]
    for pin, name, most in TRANSDUCERS:
        value = round(psi(volts(pins[pin]), most), 2)
        readings.append({"sensor": name, "value": value, "unit": "psig"})
    return json.dumps({"readings": readings})


def main():
    """Join the network, then read and send until the power goes."""
    import network
    from umqtt.simple import MQTTClient

    wlan = network.WLAN(network.STA_IF)
    wlan.active(True)
    wlan.connect(NETWORK, PASSWORD)
    while not wlan.isconnected():
        time.sleep(1)
    pins = {p[0]: ADC(Pin(p[0]), atten=ADC.ATTN_11DB) for p in (*THERMISTORS, *TRANSDUCERS)}
    client = MQTTClient("bench", BROKER)
    client.connect()
    while True:
        client.publish("sweatline/" + LOG + "/readings", message(pins), qos=1)
        time.sleep(2)


if __name__ == "__main__":
    main()
