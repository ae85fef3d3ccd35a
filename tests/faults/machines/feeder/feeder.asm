; Fish feeder panel, Tidewater field station.
;
; Six keys between three rows and two columns. One column at a time is made an output, which is low; the other one is an
; input, so that two keys at once cannot make two outputs fight. A key counts when it is the same after 10 ms.

        cpu     mc6808

PORTA   equ     $4000   ; 0-2 rows, 4-5 columns
CRA     equ     $4001
PORTB   equ     $4002   ; 0-3 the portion
CRB     equ     $4003   ; CB2: strobe of the feeder's register

ROWS    equ     $07
COLUMN1 equ     $10
COLUMN2 equ     $20
TENMS   equ     1250    ; turns of eight cycles

        org     $0000
held:   rmb     1               ; the key that has counted, 0: none
code:   rmb     1

        org     $F800
start:  lds     #$007F
        clr     held
        clr     CRA             ; data direction registers selected
        clr     CRB
        ldaa    #$0F
        staa    PORTB           ; the portion: outputs
        ldaa    #$2C            ; port selected, CB2 pulses after each store
        staa    CRB
        ldaa    #$0F
        staa    PORTB           ; dark
        ldaa    #$04
        staa    CRA
        clr     PORTA           ; columns are low when they are outputs
        clr     CRA             ; from here on the direction register stays selected but for a look at the rows

loop:   bsr     look
        staa    code
        bsr     wait
        bsr     look
        cmpa    code
        bne     loop            ; it bounces
        cmpa    held
        beq     loop            ; nothing new
        staa    held
        tsta
        beq     loop            ; released
        staa    PORTB           ; shows it, and strobes the feeder
        bra     loop

; The key that is pressed to A, 0 if there is none.
look:   ldab    #COLUMN1
        bsr     rows
        clrb
        tsta
        bne     found
        ldab    #COLUMN2
        bsr     rows
        ldab    #3
        tsta
        beq     nobody
found:  incb                    ; the lowest bit that is set gives the row
        lsra
        bcc     found
        tba
nobody: rts

; Rows that are low while the columns in B are low, to A.
rows:   stab    PORTA           ; the direction register
        ldaa    #$04
        staa    CRA
        ldaa    PORTA
        clr     CRA
        clr     PORTA           ; columns let go
        coma
        anda    #ROWS
        rts

; 10 ms.
wait:   ldx     #TENMS
delay:  dex
        bne     delay
        rts

; Nothing should interrupt.
astray: bra     astray

        org     $FFF8
        fdb     astray          ; IRQ
        fdb     astray          ; SWI
        fdb     astray          ; NMI
        fdb     start           ; RESET
