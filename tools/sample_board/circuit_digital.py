# SPDX-License-Identifier: GPL-3.0-or-later
"""Processor, memory, storage, boot parts and the small digital parts of the recorder."""

from __future__ import annotations

from .schematic import Circuit, ball_pins

_MEMORY = [f"DQ{n}" for n in range(8)] + ["DM0", "DQS_P", "DQS_N"]
_ADDRESS = [f"CA{n}" for n in range(6)] + ["CK_P", "CK_N", "CKE", "CS"]
_STORAGE = ["CLK", "CMD", "DS", "RST_N"] + [f"D{n}" for n in range(8)]
_RADIO = ["CLK", "CMD", "D0", "D1", "D2", "D3"]
_DISPLAY = ["CLK_P", "CLK_N", "D0_P", "D0_N"]


def _bus(names: list[str], pin: str, kind: str, net: str) -> str:
    return " ".join(f"{pin}{name}:{kind}:{net}{name}" for name in names)


def draw_processor(c: Circuit) -> None:
    """Processor with its supplies, crystal, straps and debug pads."""
    pins = ball_pins(
        12,
        12,
        {
            "right": _bus(_MEMORY, "DDR_", "b", "MEM_") + " " + _bus(_ADDRESS, "DDR_", "o", "MEM_")
            + " DDR_VREF:i:MEM_VREF DDR_ZQ:p:DDR_ZQ",
            "top": _bus(_STORAGE, "EMMC_", "b", "EMMC_") + " " + _bus(_RADIO, "SDIO_", "b", "SDIO_")
            + " GPIO_A0:o:RADIO_EN GPIO_A1:i:RADIO_IRQ",
            "left": "I2S_MCLK:o:I2S_MCLK I2S_BCLK:b:I2S_BCLK I2S_WS:b:I2S_WS I2S_DO:o:I2S_DO "
            "I2S_DI:i:I2S_DI GPIO_B3:i:HP_DETECT GPIO_B0:o:AUDIO_EN I2C1_SCL:o:I2C1_SCL "
            "I2C1_SDA:b:I2C1_SDA XIN:i:XTAL_IN XOUT:o:XTAL_OUT USB_DP:b:USB_DP USB_DM:b:USB_DM "
            "ADC0:i:BAT_ID RESET_N:i:RESET_N GPIO_B1:i:CHG_INT_N GPIO_B2:i:GAUGE_INT_N "
            "I2C0_SCL:o:I2C0_SCL I2C0_SDA:b:I2C0_SDA CLK_32K:i:CLK_32K PMU_INT:i:PMU_INT_N "
            "PMU_SLEEP:o:PMU_SLEEP",
            "bottom": "BOOT0:i:BOOT0 BOOT1:i:BOOT1 SPI_CS_N:o:SPI_CS_N SPI_CLK:o:SPI_CLK "
            "SPI_DO:o:SPI_DO SPI_DI:i:SPI_DI GPIO_C2:o:TOUCH_RST_N GPIO_C1:i:TOUCH_INT_N "
            + _bus(_DISPLAY, "DSI_", "o", "DSI_") + " GPIO_C0:o:DISPLAY_RST_N "
            "PWM0:o:BACKLIGHT_PWM GPIO_C5:i:RECORD_KEY_N GPIO_C6:o:MOTOR_ON "
            "SWDIO:b:SWDIO SWCLK:i:SWCLK UART_TX:o:UART_TX UART_RX:i:UART_RX "
            "GPIO_C3:o:LED_RECORD_N GPIO_C4:o:LED_STATUS_N",
        },
        [("VDD_USB", "USB_3V3"), ("VDD_PLL", "PLL_1V8"), ("VDD_RTC", "1V8_ALWAYS")]
        + [("VDD_ADC", "ANALOG_2V8")]
        + [("VDD_IO", "1V8")] * 2
        + [("VDD_CORE", "CORE_0V95")] * 12
        + [("VDD_IO", "1V8")] * 3
        + [("VDD_DDR", "MEM_1V1")] * 4,
    )  # fmt: skip
    c.chip("U", "PROCESSOR", "BGA-144", pins, at=(36.4, 20.4), turn=0, description="Processor")
    for spec, net, pin in (
        ("10u/0603 1u/0402 100n/0402", "CORE_0V95", "VDD_CORE"),
        ("1u/0402", "MEM_1V1", "VDD_DDR"),
        ("1u/0402", "1V8", "VDD_IO"),
        ("1u/0402", "USB_3V3", "VDD_USB"),
        ("100n/0402", "PLL_1V8", "VDD_PLL"),
        ("100n/0402", "1V8_ALWAYS", "VDD_RTC"),
    ):
        c.capacitors(spec, net, f"U9.{pin}", side="bottom")
    c.resistor("240R 1%", "DDR_ZQ", "GND", "U9.DDR_ZQ", side="bottom")
    c.chip(
        "Y", "24MHz", "XTAL-3225", "1:p:XTAL_IN GND:p:GND 3:p:XTAL_OUT GND:p:GND",
        near="U9.XIN", description="Main crystal",
    )  # fmt: skip
    c.capacitors("10p/0402", "XTAL_IN", "Y2.1")
    c.capacitors("10p/0402", "XTAL_OUT", "Y2.3")
    c.resistor("1M", "XTAL_IN", "XTAL_OUT", "Y2.1")
    c.resistor("10k", "1V8", "BOOT0", "U9.BOOT0")
    c.resistor("10k DNP", "BOOT0", "GND", "U9.BOOT0")
    c.resistor("10k", "BOOT1", "GND", "U9.BOOT1")
    c.capacitors("100n/0402", "RESET_N", "U9.RESET_N")
    c.resistor("10k", "1V8", "GAUGE_INT_N", "U9.GPIO_B2", side="bottom")
    c.resistor("2k2", "1V8", "I2C1_SCL", "U9.I2C1_SCL", side="bottom")
    c.resistor("2k2", "1V8", "I2C1_SDA", "U9.I2C1_SDA", side="bottom")


def draw_memory(c: Circuit) -> None:
    """LPDDR memory with its reference, soldered storage, boot flash, EEPROM."""
    pins = ball_pins(
        10,
        8,
        {
            "left": " ".join(f"{n}:b:MEM_{n}" for n in _MEMORY)
            + " " + " ".join(f"{n}:i:MEM_{n}" for n in _ADDRESS) + " VREF:i:MEM_VREF ZQ:p:MEM_ZQ",
        },
        [("VDD2", "MEM_1V1")] * 6 + [("VDDQ", "MEM_1V1")] * 4 + [("VDD1", "MEM_1V8")] * 3,
    )  # fmt: skip
    c.chip("U", "LPDDR 1GB", "BGA-80", pins, at=(51.2, 20.4), turn=0, description="Memory")
    c.capacitors("10u/0603 1u/0402 100n/0402", "MEM_1V1", "U10.VDD2", side="bottom")
    c.capacitors("1u/0402", "MEM_1V8", "U10.VDD1", side="bottom")
    c.resistor("240R 1%", "MEM_ZQ", "GND", "U10.ZQ", side="bottom")
    c.resistor("10k 1%", "MEM_1V1", "MEM_VREF", "U10.VREF", side="bottom")
    c.resistor("10k 1%", "MEM_VREF", "GND", "U10.VREF", side="bottom")
    c.capacitors("100n/0402", "MEM_VREF", "U10.VREF", side="bottom")
    pins = ball_pins(
        8,
        8,
        {"bottom": " ".join(f"{n}:{'b' if n[0] == 'D' else 'i'}:EMMC_{n}" for n in _STORAGE),
         "top": "VDDI:p:EMMC_VDDI"},
        [("VCC", "3V3")] * 4 + [("VCCQ", "1V8_EMMC")] * 4,
    )  # fmt: skip
    c.chip("U", "EMMC 64GB", "BGA-64", pins, at=(36.4, 7.4), turn=0, description="Storage")
    c.capacitors("1u/0402", "EMMC_VDDI", "U11.VDDI", side="bottom")
    c.capacitors("4u7/0603", "3V3", "U11.VCC", side="bottom")
    c.capacitors("2u2/0402", "1V8_EMMC", "U11.VCCQ", side="bottom")
    c.resistor("0R", "1V8", "1V8_EMMC", "U11.VCCQ", side="bottom", package="0603")
    c.resistor("10k", "1V8_EMMC", "EMMC_CMD", "U11.CMD", side="bottom")
    c.resistor("47k", "1V8_EMMC", "EMMC_D0", "U11.D0", side="bottom")
    c.resistor("47k", "1V8_EMMC", "EMMC_RST_N", "U11.RST_N", side="bottom")
    c.chip(
        "U", "SPI-FLASH 16MB", "WSON-8",
        "CS_N:i:SPI_CS_N DO:o:SPI_DI WP_N:i:SPI_WP_N GND:pi:GND DI:i:SPI_DO CLK:i:SPI_CLK "
        "HOLD_N:i:SPI_HOLD_N VCC:pi:1V8 EP=EP:pi:GND",
        side="bottom", at=(36.4, 33.0), turn=0, description="Boot flash",
    )  # fmt: skip
    c.capacitors("100n/0402", "1V8", "U12.VCC", side="bottom")
    c.resistor("10k", "1V8", "SPI_WP_N", "U12.WP_N", side="bottom")
    c.resistor("10k", "1V8", "SPI_HOLD_N", "U12.HOLD_N", side="bottom")
    c.resistor("10k", "1V8", "SPI_CS_N", "U12.CS_N", side="bottom")
    c.chip(
        "U", "EEPROM 64k", "DFN-8",
        "A0:i:GND A1:i:GND A2:i:GND GND:pi:GND SDA:b:I2C0_SDA SCL:i:I2C0_SCL WP:i:GND VCC:pi:1V8",
        side="bottom", at=(27.4, 24.4), turn=0, description="Calibration EEPROM",
    )  # fmt: skip
    c.capacitors("100n/0402", "1V8", "U13.VCC", side="bottom")


def draw_display(c: Circuit) -> None:
    """Display connector with touch lines behind a level shifter."""
    c.chip(
        "J", "DISPLAY", "FPC-24",
        "LED_A:p:BACKLIGHT_19V NC:nc:- LED_K:p:BACKLIGHT_FB GND:p:GND RST_N:p:DISPLAY_RST_N "
        "GND:p:GND D0_P:p:DSI_D0_P D0_N:p:DSI_D0_N GND:p:GND CLK_P:p:DSI_CLK_P CLK_N:p:DSI_CLK_N "
        "GND:p:GND VDD_IO:p:1V8 VDD_IO:p:1V8 GND:p:GND VDD:p:3V3 VDD:p:3V3 VDD:p:3V3 "
        "GND:p:GND TOUCH_SCL:p:TOUCH_SCL TOUCH_SDA:p:TOUCH_SDA TOUCH_INT:p:TOUCH_INT_N "
        "TOUCH_RST:p:TOUCH_RST_N GND:p:GND MP=SHELL:p:GND",
        at=(42.0, 39.8), turn=180, description="Display and touch connector",
    )  # fmt: skip
    c.capacitors("1u/0402", "3V3", "J3.VDD")
    c.chip(
        "U", "LEVEL-SHIFTER", "DFN-8",
        "VCCA:pi:1V8 A1:b:I2C1_SCL A2:b:I2C1_SDA GND:pi:GND OE:i:SHIFT_OE B2:b:TOUCH_SDA "
        "B1:b:TOUCH_SCL VCCB:pi:3V3",
        side="bottom", at=(44.0, 32.6), turn=0, description="Level shifter of the touch bus",
    )  # fmt: skip
    c.capacitors("100n/0402", "3V3", "U14.VCCB", side="bottom")
    c.resistor("10k", "1V8", "SHIFT_OE", "U14.OE", side="bottom")
    c.resistor("4k7", "3V3", "TOUCH_SCL", "U14.B1", side="bottom")
    c.resistor("4k7", "3V3", "TOUCH_SDA", "U14.B2", side="bottom")
    c.resistor("10k", "1V8", "TOUCH_INT_N", "J3.TOUCH_INT", side="bottom")


def draw_people(c: Circuit) -> None:
    """Keys, status LEDs, vibration motor, sensors."""
    c.chip("SW", "POWER", "KEY-2", "1:p:POWER_KEY_N 2:p:GND", at=(59.2, 24.4), turn=90)
    c.chip("SW", "RECORD", "KEY-2", "1:p:RECORD_KEY_N 2:p:GND", at=(59.2, 31.0), turn=90)
    c.resistor("10k", "1V8", "RECORD_KEY_N", "SW2.1")
    c.two("D", "ESD 5V", "0402", "POWER_KEY_N", "GND", "SW1.1", names=("K", "A"))
    for name, colour in (("LED_RECORD", "RED"), ("LED_STATUS", "GREEN")):
        led = c.chip(
            "D", f"LED {colour}", "LED-0603", f"K:p:{name}_N A:p:{name}_A",
            near="SW2.2", description="Status LED",
        )  # fmt: skip
        c.resistor("1k", "3V3", f"{name}_A", f"{led.ref}.A")
    c.chip("J", "MOTOR", "PAD-2", "M+:p:VSYS M-:p:MOTOR_M", side="bottom", at=(56.0, 38.6), turn=0,
           description="Vibration motor")  # fmt: skip
    c.chip("Q", "NMOS 20V", "SOT-23", "G:i:MOTOR_G S:p:GND D:p:MOTOR_M", side="bottom",
           near="J4.M-", description="Motor driver")  # fmt: skip
    c.resistor("100R", "MOTOR_ON", "MOTOR_G", "Q1.G", side="bottom")
    c.resistor("100k", "MOTOR_G", "GND", "Q1.G", side="bottom")
    c.two("D", "SCHOTTKY 20V", "SOD-323", "VSYS", "MOTOR_M", "J4.M+", side="bottom",
          names=("K", "A"))  # fmt: skip
    for value, package, extra, place in (
        ("ACCEL", "LGA-8", "INT:o:ACCEL_INT SA0:i:GND", (51.0, 31.6)),
        ("LIGHT-SENSOR", "LGA-6", "INT_N:oc:- ADDR:i:GND", (57.4, 33.4)),
        ("PRESSURE", "LGA-8", "INT:o:- SDO:i:GND", (57.2, 28.4)),
    ):
        supply = "VDD_IO:pi:1V8 GND:pi:GND " if package == "LGA-8" else ""
        chip = c.chip(
            "U", value, package,
            f"VDD:pi:ANALOG_2V8 GND:pi:GND SDA:b:I2C1_SDA SCL:i:I2C1_SCL {supply}{extra}",
            side="bottom", at=place, turn=0, description="Sensor",
        )  # fmt: skip
        c.capacitors("100n/0402", "ANALOG_2V8", f"{chip.ref}.VDD", side="bottom")
    c.chip("TP", "ACCEL_INT", "TESTPAD", "1:p:ACCEL_INT", side="bottom", near="U15.INT")
