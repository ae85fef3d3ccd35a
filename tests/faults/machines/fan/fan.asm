; Greenhouse fan board, Tidewater field station.
;
; The thermostats ask for speed 2 or 4, the key switches a boost on and off that gives at least 3, and nothing turns
; while the door is open. A tick of 100 Hz samples the contacts and sorts out the key's bounces.

        cpu     mc6802

PORTA   equ     $8000   ; 0 warm, 1 hot, 2 door, 3 key (low: closed)
CRA     equ     $8001   ; CA1: the key
PORTB   equ     $8002   ; 0-3 lamps (low: lit), 4-7 digit
CRB     equ     $8003   ; CB1: the tick

WARM    equ     $01
HOT     equ     $02
DOOR    equ     $04
KEY     equ     $08
SETTLE  equ     5       ; ticks after the edge until the key counts again
LOOK    equ     3       ; what is left of them when the key is looked at

        org     $0000
inputs: rmb     1               ; the contacts at the last interrupt
boost:  rmb     1               ; 0 or $FF
guard:  rmb     1               ; ticks until the key counts again
entry:  rmb     2               ; where in the table of pictures

        org     $F800
start:  lds     #$007F
        clr     boost
        clr     guard
        ldaa    #$FF
        staa    inputs
        clr     CRA             ; data direction registers selected
        clr     CRB
        clr     PORTA           ; port A: inputs
        ldaa    #$FF
        staa    PORTB           ; port B: outputs
        ldaa    #$05            ; port selected, the fall of C1 interrupts
        staa    CRA
        staa    CRB
        cli

loop:   wai                     ; for a tick or the key
        clra
        ldab    inputs
        bitb    #DOOR
        bne     show            ; open
        bitb    #WARM
        bne     cool
        ldaa    #2
cool:   bitb    #HOT
        bne     mild
        ldaa    #4
mild:   tst     boost
        beq     show
        cmpa    #3
        bcc     show
        ldaa    #3
show:   bsr     picture
        bra     loop

; Shows speed A.
picture:
        ldx     #pictures
        stx     entry
        adda    entry+1
        staa    entry+1
        ldaa    entry
        adca    #0
        staa    entry
        ldx     entry
        ldaa    0,x
        staa    PORTB
        rts

pictures:
        fcb     $0F,$1E,$2C,$38,$40

; The key or the tick.
serve:  ldaa    CRA
        ldab    PORTA           ; clears the key's flag
        stab    inputs
        tsta
        bpl     nokey
        tst     guard
        bne     nokey           ; it still bounces
        ldaa    #SETTLE
        staa    guard
nokey:  ldaa    CRB
        bpl     served
        ldaa    PORTB           ; clears the tick's flag
        tst     guard
        beq     served
        dec     guard
        ldaa    guard
        cmpa    #LOOK
        bne     served
        bitb    #KEY            ; still pressed?
        bne     served
        com     boost
served: rti

; Nothing else should interrupt.
astray: bra     astray

        org     $FFF8
        fdb     serve           ; IRQ
        fdb     astray          ; SWI
        fdb     astray          ; NMI
        fdb     start           ; RESET
