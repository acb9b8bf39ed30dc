# Installs the gateway as a Windows service from a published program. Run it in a PowerShell of an administrator:
#   service.ps1 install -From FOLDER    puts the program in FOLDER in service, or upgrades to it; what runs is kept for a rollback
#   service.ps1 rollback                goes back to the program before
#   service.ps1 uninstall               takes program and service away; configuration and history stay
#   service.ps1 status                  says what is there
# It says what it will do and asks; what is as it should be already is left alone. -Confirm:$false does not ask, -WhatIf only says it,
# -NoBackup makes no backup of the history before an upgrade.
[CmdletBinding(SupportsShouldProcess, ConfirmImpact = 'High')]
param(
    [Parameter(Mandatory, Position = 0)][ValidateSet('install', 'rollback', 'uninstall', 'status')][string] $Command,
    [string] $From,
    [switch] $NoBackup
)
$ErrorActionPreference = 'Stop'
Set-StrictMode -Version Latest

$name = 'SawEdge'
$programs = Join-Path $env:ProgramFiles $name
$current = Join-Path $programs 'current'
$previous = Join-Path $programs 'previous'
$program = Join-Path $current 'sawedge.exe'
$data = Join-Path $env:ProgramData $name
$history = Join-Path $data 'history'
$configuration = Join-Path $data 'sawedge.json'
# The service's own account: it has no password and no rights but those given to it here.
$account = "NT SERVICE\$name"
$registered = "HKLM:\SYSTEM\CurrentControlSet\Services\$name"
$events = 'HKLM:\SYSTEM\CurrentControlSet\Services\EventLog\Application\sawedge'
$settings = @("SAWEDGE_dataFolder=$history")

function Find-Service { Get-Service -Name $name -ErrorAction SilentlyContinue }

# The build's own mark after the plus is part of it: two builds of a version are two programs.
function Get-Version([string] $folder) {
    $file = Join-Path $folder 'sawedge.exe'
    if (-not (Test-Path -LiteralPath $file)) { return $null }
    $version = & $file --version
    if ($LASTEXITCODE -ne 0) { throw "'$file' does not run on this machine: is it whole, and for this processor?" }
    return "$version".Trim()
}

function Invoke-Tool([string] $tool, [string[]] $words) {
    & $tool @words | Out-Null
    if ($LASTEXITCODE -ne 0) { throw "'$tool $($words -join ' ')' ended with $LASTEXITCODE." }
}

function Stop-Gateway {
    $service = Find-Service
    if (-not $service) { return }
    if ($service.Status -ne 'Stopped') { Stop-Service -Name $name }
    # The last cuts are stored and delivered first: 35 s at most. Its files are in use for a moment longer than it is called running.
    $service.WaitForStatus('Stopped', [TimeSpan]::FromSeconds(60))
    Get-Process -Name sawedge -ErrorAction SilentlyContinue | Where-Object { $_.Path -eq $program } | Wait-Process -Timeout 60
}

function Start-Gateway {
    if (Test-Path -LiteralPath $configuration) { Start-Service -Name $name }
}

function Grant([string] $folder, [string] $rights) {
    # Nobody but administrators, the system and the service: the history names jobs, the configuration names servers.
    Invoke-Tool icacls.exe @($folder, '/inheritance:r', '/grant:r', '*S-1-5-32-544:(OI)(CI)F', '*S-1-5-18:(OI)(CI)F', "${account}:(OI)(CI)$rights")
}

function Copy-Program([string] $source) {
    New-Item -ItemType Directory -Force -Path $programs | Out-Null
    # Copied under another name first: half a program never looks like a whole one.
    $fresh = Join-Path $programs 'new'
    if (Test-Path -LiteralPath $fresh) { Remove-Item -LiteralPath $fresh -Recurse -Force }
    Copy-Item -LiteralPath $source -Destination $fresh -Recurse
    Stop-Gateway
    if (Test-Path -LiteralPath $current) {
        if (Test-Path -LiteralPath $previous) { Remove-Item -LiteralPath $previous -Recurse -Force }
        Rename-Item -LiteralPath $current -NewName 'previous'
    }
    Rename-Item -LiteralPath $fresh -NewName 'current'
}

function Register-Gateway {
    New-Service -Name $name -DisplayName 'SawEdge gateway' -BinaryPathName ('"{0}" run "{1}"' -f $program, $configuration) -StartupType Automatic -Description 'Reads band saws, records every cut, writes to InfluxDB. It only ever reads from the machine.' | Out-Null
    Invoke-Tool sc.exe @('config', $name, 'obj=', $account)
    Invoke-Tool sc.exe @('sidtype', $name, 'unrestricted')
    # Started again for as long as it takes, also where it ended by itself and said so: nobody stands by.
    Invoke-Tool sc.exe @('failure', $name, 'reset=', '86400', 'actions=', 'restart/5000/restart/5000/restart/60000')
    Invoke-Tool sc.exe @('failureflag', $name, '1')
}

# Windows lets only administrators make a source of events. The file, a part of Windows, says how the text of an entry is shown.
function Register-Events {
    New-Item -Path $events -Force | Out-Null
    New-ItemProperty -Path $events -Name EventMessageFile -PropertyType ExpandString -Value '%SystemRoot%\Microsoft.NET\Framework64\v4.0.30319\EventLogMessages.dll' -Force | Out-Null
    New-ItemProperty -Path $events -Name TypesSupported -PropertyType DWord -Value 7 -Force | Out-Null
}

function Test-Settings {
    if (-not (Test-Path -LiteralPath $registered)) { return $false }
    $there = Get-ItemProperty -LiteralPath $registered
    return ($there.PSObject.Properties.Name -contains 'Environment') -and (@($there.Environment) -contains $settings[0])
}

# Says the steps, asks once, and does them in their order.
function Invoke-Plan($steps) {
    if ($steps.Count -eq 0) {
        Write-Output 'Nothing to do: everything is as it should be.'
        return
    }
    Write-Output 'This will be done:'
    $steps | ForEach-Object { Write-Output "  - $($_.Words)" }
    if (-not $PSCmdlet.ShouldProcess("service $name", "the steps above")) { return }
    $identity = New-Object Security.Principal.WindowsPrincipal([Security.Principal.WindowsIdentity]::GetCurrent())
    if (-not $identity.IsInRole([Security.Principal.WindowsBuiltInRole]::Administrator)) {
        throw 'Only an administrator can do this: open PowerShell with "Run as administrator".'
    }
    foreach ($step in $steps) { . $step.Do }
    $script:isDone = $true
}

function Install-Gateway {
    if (-not $From) { throw 'Which program? service.ps1 install -From FOLDER, with the folder of a published program.' }
    $version = Get-Version $From
    if (-not $version) { throw "There is no sawedge.exe in '$From': that is no published program." }
    $old = Get-Version $current
    $steps = New-Object Collections.ArrayList
    function Add-Step([string] $words, [scriptblock] $do) { [void] $steps.Add(@{ Words = $words; Do = $do }) }

    $isNew = $old -ne $version
    if ($isNew) {
        if ($old -and -not $NoBackup -and (Test-Path -LiteralPath (Join-Path $history 'history.db'))) {
            # What stands behind the plus may hold what a file's name may not.
            $backup = Join-Path $data "before-$($version -replace '[^A-Za-z0-9.+_-]', '_').db"
            Add-Step "back the history up to $backup" { Invoke-Tool $program @('history', 'backup', $backup, '--data', $history, '--replace') }
        }
        Add-Step "put $version in service$(if ($old) { " in place of $old, which is kept for a rollback" })" { Copy-Program $From }
    }
    if (-not (Find-Service)) { Add-Step "make the service $name, which starts with the machine, under an account of its own" { Register-Gateway } }
    if (-not (Test-Path -LiteralPath $events)) { Add-Step 'make its source in the event log' { Register-Events } }
    if (-not (Test-Settings)) {
        Add-Step "have it keep the history in $history" { New-ItemProperty -Path $registered -Name Environment -PropertyType MultiString -Force -Value $settings | Out-Null }
    }
    if (-not (Test-Path -LiteralPath $history)) {
        Add-Step "make $data, for administrators and the service alone" {
            New-Item -ItemType Directory -Force -Path $data, $history | Out-Null
            Grant $data 'RX'
            Grant $history 'M'
        }
    }
    if ($isNew -and (Test-Path -LiteralPath $configuration)) { Add-Step 'start it' { Start-Gateway } }
    Invoke-Plan $steps
    if ($script:isDone) { Write-Output "Done: $version is in service." }
    if (-not (Test-Path -LiteralPath $configuration)) { Write-Output "Next, write $configuration, check it with '$program check $configuration', then Start-Service $name." }
}

function Undo-Upgrade {
    $new = Get-Version $current
    $old = Get-Version $previous
    if (-not $old) { throw 'There is no program before the present one to go back to.' }
    Invoke-Plan @(
        @{ Words = "put $old in service in place of $new, which is kept, so that another rollback comes back to it"; Do = {
                Stop-Gateway
                $aside = Join-Path $programs 'aside'
                if (Test-Path -LiteralPath $current) { Rename-Item -LiteralPath $current -NewName 'aside' }
                Rename-Item -LiteralPath $previous -NewName 'current'
                if (Test-Path -LiteralPath $aside) { Rename-Item -LiteralPath $aside -NewName 'previous' }
            }
        },
        @{ Words = 'start it'; Do = { Start-Gateway } })
    if (-not $script:isDone) { return }
    Write-Output "Done: $old is in service."
    & $program history status --data $history | Out-Null
    if ($LASTEXITCODE -eq 1 -or $LASTEXITCODE -eq 2) {
        Write-Output "It cannot read the history as $new left it. The backup from before goes in its place with:"
        Write-Output "  Stop-Service $name; & '$program' history restore '$(Join-Path $data "before-$new.db")' --data '$history'; Start-Service $name"
        Write-Output 'What was recorded since then stays beside it as history-replaced-TIME.db.'
    }
}

function Uninstall-Gateway {
    $steps = New-Object Collections.ArrayList
    if (Find-Service) { [void] $steps.Add(@{ Words = "stop the gateway and take the service $name away"; Do = { Stop-Gateway; Invoke-Tool sc.exe @('delete', $name) } }) }
    if (Test-Path -LiteralPath $events) { [void] $steps.Add(@{ Words = 'take its source in the event log away'; Do = { Remove-Item -LiteralPath $events -Recurse } }) }
    if (Test-Path -LiteralPath $programs) { [void] $steps.Add(@{ Words = "take the programs in $programs away"; Do = { Remove-Item -LiteralPath $programs -Recurse -Force } }) }
    Invoke-Plan $steps
    if ($script:isDone) { Write-Output "Done. Configuration and history stay in $data; remove them by hand if nobody needs them." }
}

function Show-Status {
    $service = Find-Service
    foreach ($line in @(@('in service', (Get-Version $current)), @('before', (Get-Version $previous)), @('service', $(if ($service) { "$($service.Status)" })))) {
        Write-Output ('{0,-12}{1}' -f "$($line[0]):", $(if ($line[1]) { $line[1] } else { 'none' }))
    }
}

$isDone = $false
switch ($Command) {
    'install' { Install-Gateway }
    'rollback' { Undo-Upgrade }
    'uninstall' { Uninstall-Gateway }
    'status' { Show-Status }
}
